"""Several tickets of a visit handed over in one act: one payment over them, one receipt, all of it or nothing."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from tests.factories import PartLineFactory, SettingsRecordFactory, SuspensionUnitFactory, TicketFactory, UserFactory
from tests.handed_over import part, ready_ticket
from workshop.models import FreeFinding, HandOver, Payment, Receipt, Ticket, User, Visit
from workshop.till.standing import money_of, open_sums
from workshop.till.taking import shared_out, take_payment

pytestmark = pytest.mark.django_db


@pytest.fixture
def fork() -> Ticket:
    ticket = ready_ticket("80.00", number=71)
    Ticket.objects.filter(pk=ticket.pk).update(visit=Visit.objects.create(shop=ticket.shop))
    return fresh(ticket)


@pytest.fixture
def shock(fork: Ticket) -> Ticket:
    return one_more(fork, "70.00", number=72)


@pytest.fixture
def clerk(client: Client, fork: Ticket) -> User:
    made: User = UserFactory(shop=fork.shop)
    client.force_login(made)
    return made


def fresh(ticket: Ticket) -> Ticket:
    return Ticket.objects.select_related("shop").get(pk=ticket.pk)


def one_more(fork: Ticket, price: str, **fields: Any) -> Ticket:
    unit = SuspensionUnitFactory(shop=fork.shop, customer=fork.customer)
    return fresh(ready_ticket(price, shop=fork.shop, customer=fork.customer, unit=unit, visit=fork.visit, **fields))


def page_of(ticket: Ticket, name: str = "hand_back") -> str:
    return reverse(f"counter:{name}", args=[ticket.number])


def along(ticket: Ticket, due: str) -> str:
    return f"{ticket.number}:{ticket.version}:{due}"


def send(client: Client, ticket: Ticket, *others: str, **typed: Any) -> Any:
    known = {
        "seen_version": ticket.version, "seen_settings_version": 0, "client_id": str(uuid.uuid4()),
        "with_receipt": "on", "along": others, **typed,
    }  # fmt: skip
    return client.post(page_of(ticket), known)


def states(*tickets: Ticket) -> list[str]:
    return [fresh(ticket).state for ticket in tickets]


def payments(ticket: Ticket) -> list[tuple[str, Decimal, Decimal | None]]:
    return list(Payment.objects.filter(ticket=ticket).values_list("kind", "amount", "given"))


@pytest.mark.usefixtures("clerk")
class TestInOneAct:
    def test_all_that_is_ready_of_it_is_offered_ticked_with_its_sum(
        self, client: Client, fork: Ticket, shock: Ticket
    ) -> None:
        one_more(fork, "5.00", number=73, state="on_the_bench")
        page = client.get(page_of(fork))
        assertContains(page, "Due: 150.00 EUR")
        assertContains(page, "80.00 EUR of it is for ticket 71")
        assert page.context["paid_form"]["along"].value() == [along(shock, "70.00")]
        assert page.content.decode().count("button--main") == 1

    def test_one_payment_and_one_receipt(self, client: Client, fork: Ticket, shock: Ticket) -> None:
        SettingsRecordFactory(ticket=shock, moment="hand_back", rebound_clicks=7)
        sent = send(client, fork, along(shock, "70.00"), pays_by="cash", given="160", seen_due="80.00")
        assertRedirects(sent, page_of(fork, "payments"), fetch_redirect_response=False)
        said = client.get(page_of(fork, "payments"))
        assertContains(said, "Handed back with it: ticket 72. Give 10.00 EUR change.")
        assertNotContains(said, "more of this visit")
        assert states(fork, shock) == ["handed_back", "handed_back"]
        assert payments(fork) == [("cash", Decimal(80), None)]
        assert payments(shock) == [("cash", Decimal(70), Decimal(80))], "the change stands once"
        receipt = Receipt.objects.get()
        assert (receipt.gross, [share.ticket for share in receipt.covers.all()]) == (Decimal(150), [fork, shock])
        assert [one["number"] for one in receipt.data["tickets"]] == [71, 72]
        assert shock.settings_records.get(moment="hand_back").rebound_clicks == 7

    def test_in_two_ways_over_both(self, client: Client, fork: Ticket, shock: Ticket) -> None:
        send(client, fork, along(shock, "70.00"), pays_by="cash", amount="100", given="100", rest_by="card")
        assert payments(fork) == [("cash", Decimal(80), None)]
        assert payments(shock) == [("cash", Decimal(20), Decimal(20)), ("card", Decimal(50), None)]

    def test_the_rest_on_account_is_open_where_it_is_not_paid(
        self, client: Client, fork: Ticket, shock: Ticket
    ) -> None:
        send(client, fork, along(shock, "70.00"), pays_by="card", amount="100", rest_by="account")
        assert [(one.ticket, one.amount) for one in open_sums(fork.shop)] == [(shock, Decimal(50))]

    def test_pressed_twice_is_done_once(self, client: Client, fork: Ticket, shock: Ticket) -> None:
        sent = str(uuid.uuid4())
        for _ in range(2):
            assert send(client, fork, along(shock, "70.00"), pays_by="card", client_id=sent).status_code == 302
        assert (HandOver.objects.count(), Payment.objects.count(), Receipt.objects.count()) == (2, 2, 1)

    def test_what_is_unticked_stays_and_is_led_on_to(self, client: Client, fork: Ticket, shock: Ticket) -> None:
        assert send(client, fork, pays_by="card").status_code == 302
        assert states(fork, shock) == ["handed_back", "ready"]
        assert (money_of(fork), money_of(shock)) == (Decimal(80), Decimal(0))
        led = client.get(page_of(fork, "payments"))
        assertContains(led, "1 more of this visit is ready")
        assertContains(led, page_of(shock))

    def test_paid_before_and_nothing_of_its_own(self, client: Client, fork: Ticket, shock: Ticket) -> None:
        take_payment(ticket=fork, part=part("transfer", "80"), client_id=uuid.uuid4(), by=None)
        assertContains(client.get(page_of(fork)), "Due: 70.00 EUR")
        assert send(client, fork, along(shock, "70.00"), pays_by="card").status_code == 302
        assert payments(shock) == [("card", Decimal(70), None)]
        assert Receipt.objects.get().gross == 150


@pytest.mark.usefixtures("clerk")
class TestRefused:
    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ({"pays_by": "cash", "amount": "150.01"}, "more than is due: 150.00 EUR"),
            ({"pays_by": "cash", "amount": "100"}, "50.00 EUR of it is not paid yet"),
            ({"pays_by": "cash", "given": "149.99"}, "This is less than what is paid."),
        ],
    )
    def test_a_sum_that_cannot_be(
        self, client: Client, fork: Ticket, shock: Ticket, typed: dict[str, str], said: str
    ) -> None:
        answer = send(client, fork, along(shock, "70.00"), **typed)
        assertContains(answer, said, status_code=422)
        assert answer.context["paid_form"]["along"].value() == [along(shock, "70.00")], "the tick stays"
        assert (states(fork, shock), Payment.objects.count()) == (["ready", "ready"], 0)

    def test_what_changed_meanwhile_takes_nothing_with_it(self, client: Client, fork: Ticket, shock: Ticket) -> None:
        shock.labour_lines.create(words="Bushings", price=Decimal(15), at=timezone.now())
        answer = send(client, fork, along(shock, "70.00"), pays_by="card")
        assertContains(answer, "What goes along changed since this page was opened", status_code=422)
        Ticket.objects.filter(pk=shock.pk).update(state="on_the_bench")
        assertContains(send(client, fork, along(shock, "85.00"), pays_by="card"), "changed since", status_code=422)
        assert (states(fork), Payment.objects.count()) == (["ready"], 0)

    def test_the_tickets_of_others_do_not_go_along(self, client: Client, fork: Ticket) -> None:
        strange = ready_ticket("70.00", shop=fork.shop)
        assertContains(send(client, fork, along(strange, "70.00"), pays_by="card"), "changed since", status_code=422)
        assert states(fork, strange) == ["ready", "ready"]

    def test_what_a_rule_holds_back_is_named_and_nothing_is_kept(
        self, client: Client, fork: Ticket, shock: Ticket
    ) -> None:
        PartLineFactory(ticket=shock, part=None, words="Odd circlip", unit_price=Decimal(5), quantity=1)
        answer = send(client, fork, along(shock, "70.00"), pays_by="card")
        assertContains(answer, "Ticket 72: Not handed back yet.", status_code=422)
        assertContains(answer, "Leave it out, and hand it back by itself.", status_code=422)
        assert (states(fork, shock), HandOver.objects.count()) == (["ready", "ready"], 0)

    def test_a_danger_needs_its_own_page(self, client: Client, fork: Ticket, shock: Ticket, clerk: User) -> None:
        FreeFinding.objects.create(
            ticket=shock, kind="danger", place="Shaft", text="bent", by=clerk, at=timezone.now(),
            client_id=uuid.uuid4(),
        )  # fmt: skip
        page = client.get(page_of(fork))
        assertContains(page, "must not be ridden, and somebody signs for it")
        assertContains(page, "Due: 80.00 EUR")
        assertContains(send(client, fork, along(shock, "70.00"), pays_by="card"), "changed since", status_code=422)

    @pytest.mark.parametrize("which", ["fork", "shock"])
    def test_money_that_goes_back_goes_back_by_itself(
        self, client: Client, fork: Ticket, shock: Ticket, which: str
    ) -> None:
        paid = {"fork": fork, "shock": shock}[which]
        Payment.objects.create(
            shop=paid.shop, ticket=paid, kind="card", amount=Decimal(90), currency="EUR", client_id=uuid.uuid4(),
            at=timezone.now(),
        )  # fmt: skip
        page = client.get(page_of(fork))
        assertContains(page, "It is handed back by itself: money goes back for")
        assertNotContains(page, 'name="along"')


def test_the_page_asks_as_often_however_many_go_along(client: Client, clerk: User, fork: Ticket, shock: Ticket) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(page_of(fork)).status_code == 200
        return len(asked)

    count()  # whatever a process asks once
    few = count()
    for number in range(80, 84):
        PartLineFactory(ticket=one_more(fork, "5.00", number=number), status="used")
    assert count() == few


def test_alone_it_offers_nothing(client: Client) -> None:
    ticket = TicketFactory(state="ready")
    client.force_login(UserFactory(shop=ticket.shop))
    assertNotContains(client.get(page_of(ticket)), "of the same visit")


CENTS = st.integers(1, 20_000).map(lambda cents: Decimal(cents) / 100)


@given(dues=st.lists(CENTS, min_size=1, max_size=4), percent=st.integers(1, 99), change=st.integers(0, 50))
def test_what_is_shared_out_is_what_was_paid(dues: list[Decimal], percent: int, change: int) -> None:
    total = sum(dues, Decimal(0))
    cash = (total * percent / 100).quantize(Decimal("0.01"))
    paid = [one for one in (part("cash", cash, str(cash + change)), part("card", total - cash)) if one.amount]
    shares = shared_out(paid, dues)
    assert [sum((one.amount for one in share), Decimal(0)) for share in shares] == dues
    pieces = [one for share in shares for one in share]
    for kind in ("cash", "card"):
        asked = sum((one.amount for one in paid if one.kind == kind), Decimal(0))
        assert sum((one.amount for one in pieces if one.kind == kind), Decimal(0)) == asked
    given = [one.given - one.amount for one in pieces if one.given is not None]
    assert given == ([Decimal(change)] if cash else [])
