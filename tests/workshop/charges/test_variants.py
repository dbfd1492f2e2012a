"""An estimate that offers several ways: each with its price, one is taken, and only that is charged."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains

from tests.factories import PartFactory, PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from tests.squeezed import squeezed
from tests.workshop.charges.test_charges import estimate_of, set_rules
from workshop.charges.agreeing import over_agreed
from workshop.charges.labour import charge_service
from workshop.charges.ticket_charges import charges_of
from workshop.charges.variants import drop_variant, drop_variant_line, offer, offer_part, offer_work, offered_on
from workshop.documents.rendering import html_of
from workshop.issued.models import Document
from workshop.links.links import make_link
from workshop.models import Agreement, LabourLine, PartLine, Ticket, User, Variant, VariantLine
from workshop.staff.models import Shop
from workshop.work.part_lines import use_part_line
from workshop.work.variants_taken import answer_estimate

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk(client: Client) -> User:
    member: User = UserFactory()
    client.force_login(member)
    return member


@pytest.fixture
def ticket(clerk: User) -> Ticket:
    """A service of 75.00 on it already; prices without 20 % tax."""
    made = TicketFactory(shop=clerk.shop, state="on_the_bench")
    set_rules(made.shop)
    charge_service(ticket=made, level="lowers", by=None)
    return made


@pytest.fixture
def ways(ticket: Ticket) -> tuple[Variant, Variant]:
    """Repair: 50 minutes, 50.00. Replace: 10.00 and a part at 240.00."""
    repair, replace = (offer(ticket=ticket, name=name, by=None) for name in ("Repair", "Replace"))
    offer_work(variant=repair, words="Bushings reamed", minutes=50, price=None)
    offer_work(variant=replace, words="Fitted", minutes=None, price=Decimal(10))
    part = PartFactory(number="LL-9", description="Lower legs")
    StockItemFactory(shop=ticket.shop, part=part, price=240)
    offer_part(variant=replace, part=part, quantity=Decimal(1), price=Decimal(240))
    return repair, replace


def say(document: Document, way: Variant | None, agreed: bool = True) -> Agreement:
    return answer_estimate(
        document=document, agreed=agreed, variant=str(way.pk) if way else "", how="phone", said_by="Odile Novák",
        by=None, seen_digest=document.data_digest,
    )  # fmt: skip


def gross(ticket: Ticket) -> Decimal:
    return charges_of(ticket).gross


class TestTaking:
    def test_the_estimate_has_each_with_all_that_is_on_the_ticket(
        self, ticket: Ticket, ways: tuple[Variant, Variant]
    ) -> None:
        data = estimate_of(ticket).data
        offered = [(one["name"], one["charges"]["gross"]) for one in data["variants"]]
        assert offered == [("Repair", "150.00"), ("Replace", "390.00")]
        assert data["charges"]["gross"] == "90.00"
        assert gross(ticket) == Decimal(90)
        assert not PartLine.objects.exists()

    def test_what_is_taken_is_charged_as_it_was_offered(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        Shop.objects.update(labour_rate_hour=90)
        ticket.shop.stock_items.update(price=999)
        answer = say(estimate, ways[1])
        assert (answer.amount, answer.variant) == (Decimal(390), ways[1])
        assert gross(ticket) == Decimal(390)
        assert over_agreed(ticket) is None
        assert (PartLine.objects.get().status, PartLine.objects.get().unit_price) == ("needed", Decimal(240))

    def test_what_the_shop_changed_after_the_estimate_is_not_what_was_agreed_to(
        self, ticket: Ticket, ways: tuple[Variant, Variant]
    ) -> None:
        estimate = estimate_of(ticket)
        offer_work(variant=ways[0], words="Stanchions polished", minutes=None, price=Decimal(25))
        drop_variant_line(line=ways[0].lines.get(words="Bushings reamed"))
        answer = say(estimate, ways[0])
        assert (answer.amount, gross(ticket)) == (Decimal(150), Decimal(150))
        assert LabourLine.objects.filter(words="Bushings reamed").exists()
        assert not LabourLine.objects.filter(words="Stanchions polished").exists()

    def test_the_same_answer_twice_puts_it_on_once(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        for _ in range(2):
            say(estimate, ways[0])
        assert Agreement.objects.count() == 1
        assert gross(ticket) == Decimal(150)

    def test_there_and_back_again(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        for way, comes_to in ((ways[0], 150), (ways[1], 390), (ways[0], 150)):
            say(estimate, way)
            assert gross(ticket) == comes_to
            assert list(Variant.objects.filter(taken=True)) == [way]
        say(estimate, None, agreed=False)
        assert gross(ticket) == Decimal(90)
        assert not Variant.objects.filter(taken=True).exists()
        say(estimate, ways[1])
        assert gross(ticket) == Decimal(390)

    def test_once_its_part_is_used_nobody_goes_over_to_the_other(
        self, ticket: Ticket, ways: tuple[Variant, Variant]
    ) -> None:
        estimate = estimate_of(ticket)
        say(estimate, ways[1])
        PartLine.objects.update(status="used")
        with pytest.raises(ValidationError, match="used already"):
            say(estimate, ways[0])
        assert Agreement.objects.count() == 1
        assert gross(ticket) == Decimal(390)

    def test_a_yes_says_to_which(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        with pytest.raises(ValidationError, match="to which way"):
            say(estimate, None)
        other = Variant.objects.create(ticket=TicketFactory(), name="Other", at=ticket.booked_at)
        with pytest.raises(ValidationError, match="to which way"):
            say(estimate, other)
        assert not Agreement.objects.exists()

    def test_what_was_dropped_since_cannot_be_taken(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        drop_variant(variant=ways[0])
        with pytest.raises(ValidationError, match="not offered any more"):
            say(estimate, ways[0])
        assert not Agreement.objects.exists()

    def test_a_later_estimate_has_it_among_its_charges(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        say(estimate_of(ticket), ways[0])
        second = estimate_of(ticket, revision=2)
        assert second.data["variants"] == []
        assert second.data["charges"]["gross"] == "150.00"
        say(second, None)
        assert gross(ticket) == Decimal(150)

    def test_the_database_lets_one_be_taken(self, ways: tuple[Variant, Variant]) -> None:
        with pytest.raises(IntegrityError), transaction.atomic():
            Variant.objects.update(taken=True)


class TestOffering:
    @pytest.mark.parametrize(
        ("minutes", "price", "field"),
        [(None, None, "price"), (5, Decimal(5), "price"), (0, None, "minutes"), (1441, None, "minutes"),
         (None, Decimal(-1), "price"), (None, Decimal("0.005"), "amount")],
    )  # fmt: skip
    def test_work_that_cannot_be(
        self, ways: tuple[Variant, Variant], minutes: int | None, price: Decimal | None, field: str
    ) -> None:
        if field == "amount":  # half a cent is rounded once, in the line
            assert offer_work(variant=ways[0], words="Any", minutes=minutes, price=price).amount == Decimal("0.01")
            return
        with pytest.raises(ValidationError) as refused:
            offer_work(variant=ways[0], words="Any", minutes=minutes, price=price)
        assert list(refused.value.message_dict) == [field]

    def test_once_taken_nothing_is_changed(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        say(estimate_of(ticket), ways[0])
        for change in (
            lambda: drop_variant(variant=ways[0]),
            lambda: offer_work(variant=ways[0], words="More", minutes=5, price=None),
            lambda: offer(ticket=ticket, name="Third", by=None),
        ):
            with pytest.raises(ValidationError):
                change()
        assert offered_on(ticket) == []

    @pytest.mark.parametrize("name", ["", "  ", "repair", "REPLACE "])
    def test_a_name_that_is_there_or_none(self, ticket: Ticket, ways: tuple[Variant, Variant], name: str) -> None:
        with pytest.raises(ValidationError) as refused:
            offer(ticket=ticket, name=name, by=None)
        assert list(refused.value.message_dict) == ["name"]


class TestScreens:
    def post(self, client: Client, route: str, ticket: Ticket, *more: int, **data: str) -> Any:
        return client.post(reverse(f"charges:{route}", args=[ticket.number, *more]), data)

    def test_offered_printed_and_taken_at_the_counter(self, client: Client, ticket: Ticket) -> None:
        PartFactory(number="LL-9", description="Lower legs")
        self.post(client, "offer", ticket, name="Repair")
        self.post(client, "offer", ticket, name="Replace")
        repair, replace = Variant.objects.all()
        self.post(client, "offer_work", ticket, repair.pk, words="Reamed", minutes="50", price="")
        self.post(client, "offer_part", ticket, replace.pk, number="ll-9", quantity="1", price="240")
        estimate = estimate_of(ticket)
        page = squeezed(client.get(reverse("charges:ticket", args=[ticket.number])).text)
        assert "Yes to Repair, 150.00 EUR" in page
        assert "Yes to Replace, 378.00 EUR" in page
        sent = {"digest": estimate.data_digest, "how": "phone", "said_by": "Odile Novák", "answered": ""}
        assert self.post(client, "answer", ticket, agreed="yes", **sent).status_code == 422
        assert self.post(client, "answer", ticket, agreed=f"yes-{replace.pk}", **sent).status_code == 302
        page = squeezed(client.get(reverse("charges:ticket", args=[ticket.number])).text)
        assert "to estimate 1, Replace, 378.00 EUR" in page
        assert "The customer took “Replace”" in page

    def test_taken_on_the_customers_page(self, client: Client, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        _, secret = make_link(ticket=ticket, by=None)
        client.logout()
        page = client.get(reverse("customer:page", args=[secret]))
        assertContains(page, "I agree to Repair, 150.00 EUR")
        assertContains(page, "Lower legs")
        sent = {"agreed": f"yes-{ways[1].pk}", "digest": estimate.data_digest, "answered": ""}
        client.post(reverse("customer:answer_estimate", args=[secret]), sent)
        assertContains(client.get(reverse("customer:page", args=[secret])), "You agreed to Replace")
        sent = {"agreed": "yes-0", "digest": estimate.data_digest, "answered": str(Agreement.objects.get().pk)}
        assert client.post(reverse("customer:answer_estimate", args=[secret]), sent).status_code == 409
        assert Agreement.objects.count() == 1

    def test_the_paper_has_both(self, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        estimate = estimate_of(ticket)
        html = squeezed(html_of("documents/estimate.html", {**estimate.data, "data_digest": "0" * 12}))
        for words in ("Repair: 150.00 EUR", "Replace: 390.00 EUR", "I agree to Repair / I agree to Replace /"):
            assert words in html
        assert html.count("Lowers service") == 2

    @pytest.mark.parametrize(
        ("name", "field", "sent"),
        [
            ("offer_part", "number", {"number": "no-such", "quantity": "1"}),
            ("offer_part", "quantity", {"number": "LL-9", "quantity": "0"}),
            ("offer_part", "price", {"number": "LL-9", "quantity": "1", "price": "-1"}),
            ("offer_work", "price", {"words": "Any"}),
            ("offer_work", "words", {"words": "", "minutes": "5"}),
            ("offer_work", "minutes", {"words": "Any", "minutes": "many"}),
        ],
    )
    def test_what_cannot_be_is_said_and_kept(
        self, client: Client, ticket: Ticket, ways: tuple[Variant, Variant], name: str, field: str, sent: dict[str, str]
    ) -> None:
        answer = self.post(client, name, ticket, ways[0].pk, **sent)
        assert answer.status_code == 422
        assert field in answer.context["offer_form"].errors
        assertContains(answer, f'id="way-{ways[0].pk}-{name.removeprefix("offer_")}-{field}_error"', status_code=422)
        assert VariantLine.objects.filter(variant=ways[0]).count() == 1

    def test_lines_are_dropped(self, client: Client, ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
        for line in VariantLine.objects.filter(variant=ways[1]):
            self.post(client, "drop_variant_line", ticket, line.pk)
        self.post(client, "drop_variant", ticket, ways[0].pk)
        (left,) = estimate_of(ticket).data["variants"]
        assert (left["name"], left["charges"]["gross"]) == ("Replace", "90.00")

    def test_queries_do_not_grow(
        self, client: Client, ticket: Ticket, ways: tuple[Variant, Variant],
        django_assert_num_queries: DjangoAssertNumQueries,
    ) -> None:  # fmt: skip
        for _ in range(2):
            with django_assert_num_queries(18):
                client.get(reverse("charges:ticket", args=[ticket.number]))
            for number in range(3):
                offer_work(variant=ways[0], words=f"Work {number}", minutes=5, price=None)
                PartLineFactory(ticket=ticket)


def test_a_used_part_stays_when_the_estimate_is_declined(ticket: Ticket, ways: tuple[Variant, Variant]) -> None:
    estimate = estimate_of(ticket)
    say(estimate, ways[0])
    line = PartLineFactory(ticket=ticket, unit_price=Decimal(5))
    use_part_line(line=line, by=None)
    say(estimate, None, agreed=False)
    assert LabourLine.objects.filter(dropped=False).count() == 1
    assert PartLine.objects.get().status == "used"
