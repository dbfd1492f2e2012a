"""The pages of the till: handing over with what is paid, payments, open sums, takings, receipts of the shop."""

from __future__ import annotations

import io
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from tests.factories import PartLineFactory, ShopFactory, TicketFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.models import DrawerCount, FreeFinding, HandOver, Payment, Receipt, ReceiptSettings, Shop, Ticket, User
from workshop.tickets.settings_record import Settings
from workshop.till.standing import money_of
from workshop.till.taking import take_payment
from workshop.work.hand_back import hand_back

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    return made


@pytest.fixture
def clerk(client: Client, shop: Shop) -> User:
    made: User = UserFactory(shop=shop)
    client.force_login(made)
    return made


@pytest.fixture
def owner(client: Client, shop: Shop) -> User:
    made: User = UserFactory(shop=shop, owner=True)
    client.force_login(made)
    return made


def page_of(ticket: Ticket, name: str = "payments") -> str:
    return reverse(f"counter:{name}", args=[ticket.number])


def send(client: Client, ticket: Ticket, **typed: Any) -> Any:
    known = {
        "seen_version": ticket.version, "seen_settings_version": 0, "client_id": str(uuid.uuid4()),
        "with_receipt": "on", **typed,
    }  # fmt: skip
    return client.post(page_of(ticket, "hand_back"), known)


class TestHandingOver:
    def test_one_press_pays_all_that_is_due(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        assertContains(client.get(page_of(ticket, "hand_back")), "Due: 80.00")
        done = send(client, ticket, pays_by="cash", given="100")
        assertRedirects(done, page_of(ticket), fetch_redirect_response=False)
        assertContains(client.get(page_of(ticket)), "Give 20.00 EUR change.")
        assert (money_of(ticket), Receipt.objects.get().gross) == (Decimal(80), Decimal(80))

    def test_in_two_ways(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        assert send(client, ticket, pays_by="cash", amount="30", rest_by="card").status_code == 302
        assert list(Payment.objects.values_list("kind", "amount")) == [("cash", Decimal(30)), ("card", Decimal(50))]

    def test_the_rest_on_account_is_an_open_sum(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        send(client, ticket, pays_by="cash", amount="30", rest_by="account")
        assertContains(client.get(reverse("counter:open_sums")), "50.00 EUR")

    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ({}, "Say how it is paid."),
            ({"pays_by": "cash", "amount": "80.01"}, "This is more than is due: 80.00 EUR."),
            ({"pays_by": "cash", "amount": "-5"}, "Enter an amount above zero."),
            ({"pays_by": "cash", "amount": "much"}, "Enter an amount, for example 80 or 79.50."),
            ({"pays_by": "cash", "amount": "30"}, "50.00 EUR of it is not paid yet."),
            ({"pays_by": "cash", "given": "50"}, "This is less than what is paid."),
        ],
    )
    def test_what_cannot_be_is_said_and_nothing_typed_is_lost(
        self, client: Client, clerk: User, shop: Shop, typed: dict[str, str], said: str
    ) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        answer = send(client, ticket, rebound_clicks="7", **typed)
        assertContains(answer, said, status_code=422)
        assertContains(answer, 'value="7"', status_code=422)
        for word in typed.values():
            assertContains(answer, f'value="{word}"', status_code=422)
        assert (Ticket.objects.get(pk=ticket.pk).state, Payment.objects.count()) == ("ready", 0)

    def test_pressed_twice_is_done_once(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket, sent = ready_ticket("80.00", shop=shop), str(uuid.uuid4())
        for _ in range(2):
            assertRedirects(send(client, ticket, pays_by="card", client_id=sent), page_of(ticket))
        assert (HandOver.objects.count(), Payment.objects.count(), Receipt.objects.count()) == (1, 1, 1)

    def test_a_sum_that_changed_meanwhile_is_shown_and_not_taken(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        ticket.labour_lines.create(words="Bushings", price=Decimal(15), at=timezone.now())
        answer = send(client, ticket, pays_by="card", seen_due="80.00")
        assertContains(answer, "it is 95.00 EUR now", status_code=422)
        assertContains(answer, 'name="seen_due" value="95.00"', status_code=422)
        assert not Payment.objects.exists()

    def test_parts_that_are_asked_about_first_change_what_is_due(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        line = PartLineFactory(ticket=ticket, part=None, words="Odd circlip", unit_price=Decimal(5), quantity=1)
        assertContains(send(client, ticket, pays_by="card", seen_due="80.00"), "Which parts", status_code=422)
        answered = {"parts_asked": "1", f"became-{line.pk}": "used", f"quantity-{line.pk}": "1"}
        answer = send(client, ticket, pays_by="card", seen_due="80.00", **answered)
        assertContains(answer, "it is 85.00 EUR now", status_code=422)
        assertContains(answer, "Due: 85.00", status_code=422)
        assert send(client, ticket, pays_by="card", seen_due="85.00").status_code == 302
        assert money_of(ticket) == 85

    def test_too_much_paid_before_goes_back_with_it(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        deposit(ticket, "50")
        Ticket.objects.filter(pk=ticket.pk).update(state="called_off")
        assertContains(client.get(page_of(ticket, "hand_back")), "To pay back: 50.00")
        assertContains(send(client, ticket), "Say how it is paid back.", status_code=422)
        assert send(client, ticket, back_by="cash").status_code == 302
        assert money_of(ticket) == 0

    def test_what_nobody_answered_stands_in_red(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        FreeFinding.objects.create(
            ticket=ticket, kind="by_the_way", place="Headset", text="rough", by=clerk, at=timezone.now(),
            client_id=uuid.uuid4(),
        )  # fmt: skip
        answer = client.get(page_of(ticket, "hand_back"))
        assertContains(answer, "nobody has answered it")
        assertContains(answer, "Headset")

    def test_it_has_one_main_button(self, client: Client, clerk: User, shop: Shop) -> None:
        shown = client.get(page_of(ready_ticket("80.00", shop=shop), "hand_back")).content.decode()
        assert shown.count("button--main") == 1

    def test_its_queries_stay_the_same_as_payments_grow(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        deposit(ticket, "1")
        counts = []
        for _ in range(2):
            for name in ("hand_back", "payments"):
                with CaptureQueriesContext(
                    connection,
                ) as asked:
                    client.get(page_of(ticket, name))
                counts.append(len(asked))
            for _ in range(5):
                deposit(ticket, "2")
        assert counts[:2] == counts[2:]


class TestPayments:
    def test_from_before_payments_nothing_is_said(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        hand_back(ticket=ticket, by=None, seen_version=1, settings=Settings())
        answer = client.get(page_of(ticket))
        assertContains(answer, "not recorded")
        for word in ("Open</dt>", "Record this payment", "Issue the receipt", "Undo"):
            assertNotContains(answer, word)

    def test_a_deposit_is_booked_once(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        typed = {"kind": "card", "amount": "25.50", "client_id": str(uuid.uuid4())}
        for _ in range(2):
            assertRedirects(client.post(page_of(ticket, "take_payment"), typed), page_of(ticket))
        assert money_of(ticket) == Decimal("25.50")
        assertContains(client.get(reverse("counter:open_sums")), "25.50 EUR")

    @pytest.mark.parametrize("amount", ["-5", "0", ""])
    def test_no_deposit_of_nothing(self, client: Client, clerk: User, shop: Shop, amount: str) -> None:
        ticket = TicketFactory(shop=shop)
        typed = {"kind": "card", "amount": amount, "client_id": str(uuid.uuid4())}
        assertContains(client.post(page_of(ticket, "take_payment"), typed), "Enter an amount", status_code=422)
        assert not Payment.objects.exists()

    def test_calling_off_with_a_deposit_is_not_silent(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        deposit(ticket, "50")
        off = {"seen_version": ticket.version, "to": "called_off", "reason": "Sold the bike"}
        said = client.post(page_of(ticket, "move"), off, follow=True)
        assertContains(said, "50.00 EUR was paid for it.")
        assertContains(client.get(page_of(ticket)), "Held, more than it comes to")

    def test_no_more_back_than_was_paid(self, client: Client, owner: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        deposit(ticket, "50")
        typed = {"kind": "cash", "amount": "50.01", "reason": "Cancelled", "client_id": str(uuid.uuid4())}
        answer = client.post(page_of(ticket, "pay_back"), typed)
        assertContains(answer, "This is more than was paid: 50.00 EUR.", status_code=422)
        assertContains(answer, 'value="Cancelled"', status_code=422)
        assertRedirects(client.post(page_of(ticket, "pay_back"), {**typed, "amount": "50"}), page_of(ticket))
        assert money_of(ticket) == 0

    def test_the_wrong_row_is_undone_by_the_clerk(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        hand_it_over(ticket, on_account=True, with_receipt=False)
        client.post(page_of(ticket, "undo_hand_back"), {"seen_version": ticket.version})
        assert Ticket.objects.get(pk=ticket.pk).state == "ready"

    def test_the_owner_opens_again_and_a_credit_note_follows(self, client: Client, owner: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        hand_it_over(ticket, part("cash", "80"))
        again = page_of(ticket, "open_again")
        refused = client.post(again, {"seen_version": ticket.version, "reason": ""})
        assertContains(refused, "Say why it is opened again.", status_code=422)
        stale = client.post(again, {"seen_version": 1, "reason": "Wrong price"})
        assertContains(stale, "Wrong price", status_code=409)
        client.post(again, {"seen_version": ticket.version, "reason": "Wrong price"})
        answer = client.get(page_of(ticket))
        assertContains(answer, f"Credit note C{timezone.localdate().year}-0001")
        assertContains(answer, "80.00 EUR")

    def test_a_clerk_cannot_open_it_again(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        hand_it_over(ticket, part("cash", "80"))
        assertContains(client.get(page_of(ticket)), "the owner can open it again")
        answer = client.post(page_of(ticket, "open_again"), {"seen_version": ticket.version, "reason": "x"})
        assert answer.status_code == 403


class TestTakings:
    def test_a_day_is_counted_and_kept(self, client: Client, owner: User, shop: Shop) -> None:
        hand_it_over(ready_ticket("80.00", shop=shop), part("cash", "80"))
        takings = reverse("counter:takings")
        assertContains(client.get(takings), "Not counted. Cash of the day: 80.00 EUR.")
        typed = {"opening": "100", "counted": "175", "taken_out": "", "seen_cash": "80.00", "seen_count": "0"}
        answer = client.post(reverse("counter:count_drawer"), typed)
        assertContains(answer, "There is 5.00 EUR too little in the drawer.", status_code=422)
        assert client.post(reverse("counter:count_drawer"), {**typed, "seen_cash": "70.00"}).status_code == 409
        client.post(reverse("counter:count_drawer"), {**typed, "reason": "Wrong change"})
        assert DrawerCount.objects.get().reason == "Wrong change"
        assertContains(client.get(takings), "-5.00 EUR: Wrong change")

    def test_queries_stay_the_same_as_a_day_grows(self, client: Client, owner: User, shop: Shop) -> None:
        counts = []
        for sold in (1, 4):
            for _ in range(sold):
                hand_it_over(ready_ticket("80.00", shop=shop), part("cash", "30"), on_account=True)
            for name in ("takings", "open_sums"):
                with CaptureQueriesContext(connection) as asked:
                    client.get(reverse(f"counter:{name}"))
                counts.append(len(asked))
        assert counts[:2] == counts[2:]

    def test_a_month_for_the_books(self, client: Client, owner: User, shop: Shop) -> None:
        hand_it_over(ready_ticket("80.00", shop=shop), part("cash", "80"))
        for what in ("receipts", "rates"):
            answer = client.get(reverse("counter:month_books", args=[what]), {"month": f"{timezone.localdate():%Y-%m}"})
            assert answer.content.decode().splitlines()[1].endswith("80.00,0.00,80.00")
        wrong = client.get(reverse("counter:month_books", args=["rates"]), {"month": "March"})
        assertContains(wrong, "Enter a month as 2026-03.", status_code=422)
        assert client.get(reverse("counter:month_books", args=["all"])).status_code == 404


class TestTheShop:
    def test_numbers_and_logo_are_kept_and_local_law_is_named(self, client: Client, owner: User, shop: Shop) -> None:
        address = reverse("office:receipts")
        assertContains(client.get(address), "Have the layout checked against local law.")
        picture = io.BytesIO()
        Image.new("RGBA", (900, 300), "#20406080").save(picture, "PNG")
        sent = {"seen_version": 0, "tax_number": "12 345", "logo": SimpleUploadedFile("a.png", picture.getvalue())}
        assertRedirects(client.post(address, sent), address)
        kept = ReceiptSettings.objects.get(shop=shop)
        assert (kept.tax_number, kept.logo[:22]) == ("12 345", "data:image/png;base64,")
        broken = {"seen_version": kept.version, "logo": SimpleUploadedFile("a.png", b"<svg>")}
        assertContains(client.post(address, broken), "is no picture that can be read here", status_code=422)
        client.post(address, {"seen_version": kept.version, "tax_number": "6", "without_logo": "on"})
        assert (ReceiptSettings.objects.get().logo, ReceiptSettings.objects.get().tax_number) == ("", "6")

    def test_the_currency_stays_while_a_sum_is_open(self, client: Client, owner: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        hand_it_over(ticket, on_account=True)
        form = client.get(reverse("office:shop_settings")).context["form"]
        typed = {name: "" if form[name].value() is None else form[name].value() for name in form.fields} | {
            "currency": "CHF",
            "seen_version": shop.version,
        }
        typed.pop("owners_need_second_factor")
        answer = client.post(reverse("office:shop_settings"), typed)
        assertContains(answer, "The currency stays while sums are open", status_code=422)
        deposit(ticket, "80")
        assert client.post(reverse("office:shop_settings"), typed).status_code == 302
        assert Shop.objects.get(pk=shop.pk).currency == "CHF"


class TestChargeLines:
    def test_a_discount_has_a_reason_and_comes_off(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        address = reverse("charges:add_discount", args=[ticket.number])
        charges = reverse("charges:ticket", args=[ticket.number])
        for typed, said in (
            ({"amount": "10", "off": "labour", "reason": ""}, "Say why; the receipt prints it."),
            (
                {"amount": "80.01", "off": "labour", "reason": "Late"},
                "No more than 80.00 EUR can be taken off the labour.",
            ),
            ({"amount": "-1", "off": "labour", "reason": "Late"}, "Enter an amount above zero."),
            ({"amount": "1", "off": "part", "reason": "Late"}, "No more than 0.00 EUR can be taken off the parts."),
        ):
            assertContains(client.post(address, typed), said, status_code=422)
        assertRedirects(client.post(address, {"amount": "10", "off": "labour", "reason": "Late"}), charges)
        assertContains(client.get(charges), "70.00 EUR")
        client.post(reverse("charges:drop_discount", args=[ticket.number, ticket.discounts.get().pk]))
        assertContains(client.get(charges), "80.00 EUR")

    def test_more_off_than_there_is_left_is_refused_at_hand_back(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = ready_ticket("80.00", shop=shop)
        ticket.discounts.create(amount=Decimal(90), reason="Late", at=timezone.now())
        assertContains(send(client, ticket, back_by="cash"), "More is taken off than it comes to.", status_code=422)

    def test_something_at_a_price_of_its_own(self, client: Client, clerk: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        address = reverse("charges:add_price", args=[ticket.number])
        assertContains(client.post(address, {"words": "Courier", "price": "-1"}), "below zero", status_code=422)
        client.post(address, {"words": "Courier", "price": "12.50"})
        assert ticket.labour_lines.get().price == Decimal("12.50")


def deposit(ticket: Ticket, amount: str) -> Payment:
    fresh = Ticket.objects.select_related("shop").get(pk=ticket.pk)
    return take_payment(ticket=fresh, part=part("cash", amount), client_id=uuid.uuid4(), by=None)
