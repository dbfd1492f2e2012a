"""Charges on the screen: labour, the estimate, the answer at the counter and on the customer's page, prices."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from tests.factories import PartLineFactory, TicketFactory, UserFactory
from tests.squeezed import squeezed
from tests.workshop.charges.test_charges import estimate_of, set_rules
from workshop.charges.labour import charge_minutes, charge_service
from workshop.charges.models import Agreement, LabourLine, TaxRules
from workshop.charges.tax import tax_rules_of
from workshop.documents.issuing import issue
from workshop.issued.models import Document
from workshop.links.links import make_link
from workshop.models import Ticket
from workshop.staff.models import User

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk() -> User:
    return UserFactory()


@pytest.fixture
def ticket(clerk: User) -> Ticket:
    made = TicketFactory(shop=clerk.shop, state="on_the_bench", price_ceiling=Decimal(50))
    set_rules(made.shop)
    return made


@pytest.fixture
def page(client: Client, clerk: User, ticket: Ticket) -> Any:
    client.force_login(clerk)
    return lambda: client.get(reverse("charges:ticket", args=[ticket.number]))


def post(client: Client, name: str, ticket: Ticket, *more: Any, **data: Any) -> Any:
    return client.post(reverse(f"charges:{name}", args=[ticket.number, *more]), data)


@pytest.fixture
def no_layout(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())


class TestTicketsCharges:
    def test_a_service_and_minutes_are_added_and_dropped(self, client: Client, page: Any, ticket: Ticket) -> None:
        assert "Lowers service, 75.00 EUR" in page().content.decode()
        post(client, "add_service", ticket, level="lowers")
        post(client, "add_minutes", ticket, words="Bushings reamed", minutes="30")
        content = page().content.decode()
        assert "126.00 EUR" in content  # 75 + 30, and 20 %
        assert "Above what was agreed" in content
        post(client, "drop_labour", ticket, LabourLine.objects.get(level="lowers").pk)
        assert "36.00 EUR" in page().content.decode()

    @pytest.mark.parametrize(
        ("minutes", "reason"), [("", "Enter the minutes"), ("-3", "above zero"), ("half", "whole minutes")]
    )
    def test_minutes_that_cannot_be_keep_what_was_typed(
        self, client: Client, page: Any, ticket: Ticket, minutes: str, reason: str
    ) -> None:
        page()
        answer = post(client, "add_minutes", ticket, words="Bushings reamed", minutes=minutes)
        assert answer.status_code == 422
        assert reason in answer.content.decode()
        assert "Bushings reamed" in answer.content.decode()

    def test_the_answer_is_written_down(self, client: Client, page: Any, ticket: Ticket, clerk: User) -> None:
        page()
        charge_service(ticket=ticket, level="lowers", by=None)
        estimate = estimate_of(ticket)
        data = {"digest": estimate.data_digest, "how": "phone", "said_by": "Odile Novák"}
        post(client, "answer", ticket, agreed="yes", **data)
        assert Agreement.objects.get().by == clerk
        assert "from Odile Novák to estimate 1, 90.00 EUR, by phone" in squeezed(page().content.decode())

    def test_a_no_stays_in_sight_where_a_move_is_refused(self, client: Client, page: Any, ticket: Ticket) -> None:
        page()
        charge_service(ticket=ticket, level="lowers", by=None)
        estimate = estimate_of(ticket)
        data = {"digest": estimate.data_digest, "how": "phone", "said_by": "Odile Novák"}
        post(client, "answer", ticket, agreed="no", **data)
        ticket.refresh_from_db()
        for seen, status in ((ticket.version, 422), (ticket.version - 1, 409)):
            sent = {"to": "called_off", "seen_version": seen}
            refused = client.post(reverse("counter:move", args=[ticket.number]), sent)
            assert refused.status_code == status
            assert "The customer declined estimate 1.</span>" in refused.content.decode()

    def test_an_answer_to_a_replaced_estimate_is_a_conflict(self, client: Client, page: Any, ticket: Ticket) -> None:
        page()
        old = estimate_of(ticket)
        estimate_of(ticket, revision=2)
        data = {"digest": old.data_digest, "how": "phone", "said_by": "Odile Novák", "agreed": "yes"}
        answer = post(client, "answer", ticket, **data)
        assert answer.status_code == 409
        assert "newer estimate" in answer.content.decode()
        assert not Agreement.objects.exists()

    def test_without_an_estimate_there_is_nothing_to_answer(self, client: Client, page: Any, ticket: Ticket) -> None:
        page()
        answer = client.post(reverse("charges:answer", args=[ticket.number]), {"agreed": "yes"}, follow=True)
        assert "Print an estimate first" in answer.content.decode()

    def test_another_shops_ticket_is_not_found(self, client: Client, page: Any) -> None:
        page()
        other = TicketFactory(number=99_999)
        assert client.get(reverse("charges:ticket", args=[other.number])).status_code == 404

    def test_queries_do_not_grow(
        self, client: Client, page: Any, ticket: Ticket, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        page()
        for number in range(9):
            PartLineFactory(ticket=ticket)
            charge_minutes(ticket=ticket, words=f"Work {number}", minutes=5, by=None)
            estimate_of(ticket, revision=number + 1)
        with django_assert_num_queries(17):
            page()

    def test_the_bench_says_that_it_is_not_agreed(self, client: Client, ticket: Ticket) -> None:
        client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
        charge_service(ticket=ticket, level="lowers", by=None)
        answer = client.post(reverse("bench:finish", args=[ticket.number]), {"version": ticket.version})
        assert answer.status_code == 422
        assert "the customer agreed to 50.00 EUR" in answer.content.decode()


class TestCustomersPage:
    @pytest.fixture
    def secret(self, ticket: Ticket) -> str:
        charge_service(ticket=ticket, level="lowers", by=None)
        return make_link(ticket=ticket, by=None)[1]

    def send(self, secret: str, **data: Any) -> Any:
        return Client().post(reverse("customer:answer_estimate", args=[secret]), data, follow=True)

    def test_no_estimate_shows_nothing(self, secret: str) -> None:
        page = Client().get(reverse("customer:page", args=[secret]))
        assert "Estimate" not in page.content.decode()
        assert Client().get(reverse("customer:estimate", args=[secret])).status_code == 404

    def test_the_customer_agrees(self, ticket: Ticket, secret: str) -> None:
        estimate = estimate_of(ticket)
        page = Client().get(reverse("customer:page", args=[secret])).content.decode()
        assert "I agree to 90.00 EUR" in page
        assert "This is more than the 50.00 EUR" in page
        answer = self.send(secret, agreed="yes", digest=estimate.data_digest, note="Please be quick")
        assert "You agreed" in answer.content.decode()
        kept = Agreement.objects.get()
        assert (kept.how, kept.said_by, kept.by, kept.note) == ("page", ticket.customer.name, None, "Please be quick")

    def test_a_replaced_estimate_has_to_be_read_again(self, ticket: Ticket, secret: str) -> None:
        old = estimate_of(ticket)
        estimate_of(ticket, revision=2)
        answer = self.send(secret, agreed="yes", digest=old.data_digest)
        assert answer.status_code == 409
        assert "your answer was not kept" in answer.content.decode()
        assert not Agreement.objects.exists()

    @pytest.mark.parametrize("agreed", ["", "perhaps"])
    def test_neither_yes_nor_no_is_no_answer(self, ticket: Ticket, secret: str, agreed: str) -> None:
        assert self.send(secret, agreed=agreed, digest=estimate_of(ticket).data_digest).status_code == 404

    def test_a_closed_ticket_shows_no_buttons(self, ticket: Ticket, secret: str) -> None:
        estimate = estimate_of(ticket)
        Ticket.objects.update(state="handed_back")
        assert "I agree" not in Client().get(reverse("customer:page", args=[secret])).content.decode()
        assert self.send(secret, agreed="yes", digest=estimate.data_digest).status_code == 409


@pytest.mark.usefixtures("no_layout")
class TestPapers:
    def test_the_estimate_freezes_what_was_estimated(self, ticket: Ticket, clerk: User) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        document = issue(ticket=ticket, kind="estimate", by=clerk, ticket_address="")
        charge_minutes(ticket=ticket, words="More", minutes=60, by=None)
        document.refresh_from_db()
        assert document.data["charges"]["gross"] == "90.00"
        with document.pdf.open("rb") as file:
            text = file.read().decode()
        for words in ("VAT 20 % on 75.00 EUR", "15.00 EUR", "90.00 EUR", "more than the 50.00 EUR"):
            assert words in text

    @pytest.mark.parametrize(("state", "said"), [("ready", "What it costs"), ("on_the_bench", "What it would cost")])
    def test_the_report_says_what_it_cost(self, ticket: Ticket, clerk: User, state: str, said: str) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        Ticket.objects.filter(pk=ticket.pk).update(state=state)
        ticket.refresh_from_db()
        document = issue(ticket=ticket, kind=Document.Kind.CUSTOMER_REPORT, by=clerk, ticket_address="")
        with document.pdf.open("rb") as file:
            text = file.read().decode()
        assert said in text
        assert "90.00 EUR" in text


class TestPrices:
    @pytest.fixture
    def owner(self, client: Client, ticket: Ticket) -> User:
        member: User = UserFactory(shop=ticket.shop, owner=True)
        client.force_login(member)
        return member

    def data(self, **changes: str) -> dict[str, str]:
        return {
            "seen_version": "1", "name": "VAT", "labour_percent": "21", "parts_percent": "6", "rounding": "line",
            "fork_lowers": "80", "shock_full": "",
        } | changes  # fmt: skip

    def test_the_owner_sets_prices_and_tax(self, client: Client, owner: User) -> None:
        answer = client.post(reverse("office:prices"), self.data())
        assert answer.status_code == 302
        rules = tax_rules_of(owner.shop)  # type: ignore[arg-type]  # an owner has a shop
        assert (rules.labour_percent, rules.parts_percent, rules.rounding) == (Decimal(21), Decimal(6), "line")

    @pytest.mark.parametrize(
        ("field", "value", "reason"),
        [
            ("labour_percent", "200", "from 0 to 100 %"),
            ("fork_lowers", "-5", "below zero"),
            ("name", "", "Enter this."),
        ],
    )
    def test_what_cannot_be_is_refused(self, client: Client, owner: User, field: str, value: str, reason: str) -> None:
        answer = client.post(reverse("office:prices"), self.data(**{field: value}))
        assert answer.status_code == 422
        assert reason in answer.content.decode()
        assert TaxRules.objects.get().labour_percent == Decimal(20)

    def test_the_slower_of_two_sees_both(self, client: Client, owner: User) -> None:
        answer = client.post(reverse("office:prices"), self.data(seen_version="0"))
        assert answer.status_code == 409
        assert "Somebody changed this while you were typing" in answer.content.decode()

    def test_the_books_are_a_file(self, client: Client, owner: User) -> None:
        answer = client.get(reverse("office:books"), {"first": "2026-01-01", "last": "2026-12-31"})
        assert answer["Content-Type"] == "text/csv; charset=utf-8"
        assert "charges-2026-01-01-to-2026-12-31.csv" in answer["Content-Disposition"]

    def test_days_the_wrong_way_round_are_refused(self, client: Client, owner: User) -> None:
        answer = client.get(reverse("office:books"), {"first": "2026-02-01", "last": "2026-01-01"})
        assert answer.status_code == 422
        assert "before the first one" in answer.content.decode()

    def test_only_the_owner_may(self, client: Client, ticket: Ticket, clerk: User) -> None:
        client.force_login(clerk)
        assert client.get(reverse("office:prices")).status_code == 403
