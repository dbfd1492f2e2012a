"""Will the promise hold, and if not why: one answer on every screen, from the booking to the day it is late."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import (
    KitLineFactory,
    PartLineFactory,
    ServiceKitFactory,
    ShopFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.known import known
from workshop.models import Shop, StockItem, SuspensionUnit, Ticket, User
from workshop.promise.honest import promise_of, promises_in_danger
from workshop.promise.models import PromiseHeard
from workshop.stock.ordering import place_order, receive_goods

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    return made


@pytest.fixture
def owner(client: Client, shop: Shop) -> User:
    made: User = UserFactory(shop=shop, owner=True)
    client.force_login(made)
    return made


@pytest.fixture
def today() -> dt.date:
    return timezone.localdate()


@pytest.fixture
def seal(shop: Shop) -> StockItem:
    """A foot seal that takes twenty days to come."""
    made: StockItem = StockItemFactory(shop=shop, supplier="North", lead_days=20, part__description="Foot seal")
    return made


@pytest.fixture
def unit(shop: Shop, seal: StockItem) -> SuspensionUnit:
    """A fork whose smallest kit takes a foot seal."""
    made: SuspensionUnit = SuspensionUnitFactory(shop=shop)
    KitLineFactory(kit=ServiceKitFactory(model=made.model), part=seal.part, quantity=1)
    return made


def pages(client: Client, ticket: Ticket) -> dict[str, str]:
    """What each screen that shows the ticket says."""
    addresses = {
        "the ticket’s page": reverse("counter:ticket", args=[ticket.number]),
        "the ticket at the bench": reverse("bench:ticket", args=[ticket.number]),
        "the counter's day": reverse("counter:outlook"),
        "the bench's board": reverse("bench:board"),
        "the owner's overview": reverse("office:overview"),
    }
    return {name: client.get(address).content.decode() for name, address in addresses.items()}


class TestEveryScreenSaysTheSame:
    @pytest.mark.parametrize(
        ("promised", "state", "kind", "chip"),
        [
            (-2, "booked_in", "late", "Overdue"),
            (-2, "on_the_bench", "late", "Overdue"),
            (0, "on_the_bench", "today", "Due today"),
            (2, "booked_in", "ahead", "Will not hold"),
        ],
    )
    def test_late_due_today_and_ahead(
        self, client: Client, owner: User, shop: Shop, today: dt.date, promised: int, state: str, kind: str, chip: str
    ) -> None:
        ticket = TicketFactory(shop=shop, state=state, mechanic=owner, promised_on=today + promised * DAY)
        if kind == "ahead":
            PartLineFactory(ticket=ticket, part=None, words="Odd circlip")
        danger = promise_of(ticket, today)
        assert danger is not None
        assert danger.kind == kind
        for name, text in pages(client, ticket).items():
            assert chip in text, name
            assert f"{danger.day:%a} {danger.day.day} {danger.day:%b}: {danger.reason}." in text, name

    @pytest.mark.parametrize("state", ["ready", "handed_back", "called_off"])
    def test_what_is_done_has_no_promise_left_to_break(self, shop: Shop, today: dt.date, state: str) -> None:
        ticket = TicketFactory(shop=shop, state=state, promised_on=today - DAY)
        assert promise_of(ticket, today) is None
        assert promises_in_danger(shop, today) == []

    def test_a_promise_that_holds_is_marked_nowhere(
        self, client: Client, owner: User, shop: Shop, today: dt.date
    ) -> None:
        ticket = TicketFactory(shop=shop, mechanic=owner, promised_on=today + 20 * DAY)
        assert promise_of(ticket, today) is None
        for name, text in pages(client, ticket).items():
            assert "Will not hold" not in text, name
            assert "Realistic" not in text, name

    def test_one_that_waits_for_an_answer_says_so(self, shop: Shop, today: dt.date) -> None:
        ticket = TicketFactory(shop=shop, waiting=True, promised_on=today)
        danger = promise_of(ticket, today)
        assert danger is not None
        assert danger.reason == "it waits for the customer’s answer"

    def test_the_first_page_has_no_second_answer_of_its_own(self, client: Client, owner: User, shop: Shop) -> None:
        text = client.get(reverse("counter:today")).content.decode()
        assert "in danger" not in text
        assert reverse("counter:outlook") in text


class TestWhatTheBookingHeard:
    def book(self, client: Client, unit: SuspensionUnit, promised_on: dt.date, client_id: str = "") -> Ticket:
        sent = {
            "client_id": client_id or str(uuid.uuid4()), "customer": unit.customer_id, "unit": unit.pk, "bike": "none",
            "ticket-complaint_words": "It leaks", "ticket-promised_on": promised_on.isoformat(),
        }  # fmt: skip
        page = client.post(reverse("counter:book_in"), sent)
        assert page.status_code == 302, page.content.decode()[:3000]
        return Ticket.objects.get(unit=unit)

    def test_it_stays_with_the_ticket(
        self, client: Client, owner: User, unit: SuspensionUnit, seal: StockItem, today: dt.date
    ) -> None:
        ticket = self.book(client, unit, today + 2 * DAY)
        heard = PromiseHeard.objects.get(ticket=ticket)
        assert (
            heard.reasons[-1] == "Not there: Foot seal takes 20 days to come (needed: as likely as not, about 5 in 10)."
        )
        StockMovementFactory(item=seal)  # it came after all; what was heard is still what was heard
        for name in ("counter:ticket", "bench:ticket"):
            text = client.get(reverse(name, args=[ticket.number])).content.decode()
            assert "Not there: Foot seal takes 20 days to come (needed: as likely as not, about 5 in 10)." in text

    def test_sent_twice_it_is_heard_once(
        self, client: Client, owner: User, unit: SuspensionUnit, today: dt.date
    ) -> None:
        key = str(uuid.uuid4())
        for _ in range(2):
            self.book(client, unit, today + 2 * DAY, key)
        assert PromiseHeard.objects.count() == 1

    def test_the_promise_goes_on_to_reckon_with_it(
        self, client: Client, owner: User, shop: Shop, unit: SuspensionUnit, seal: StockItem, today: dt.date
    ) -> None:
        order = place_order(shop=shop, supplier="North", quantities={seal.pk: Decimal(1)}, by=None)
        type(order).objects.filter(pk=order.pk).update(expected_on=today + 7 * DAY)
        ticket = self.book(client, unit, today + 2 * DAY)
        danger = promise_of(ticket, today)
        assert danger is not None
        assert danger.reason.startswith("Foot seal comes with order 1, expected")
        for name, text in pages(client, ticket).items():
            assert danger.reason in text, name

    def test_what_the_deliveries_of_its_supplier_say_goes_before_the_days_typed_at_the_part(
        self, client: Client, owner: User, shop: Shop, unit: SuspensionUnit, seal: StockItem, today: dt.date
    ) -> None:
        ticket = TicketFactory(shop=shop, customer=unit.customer, unit=unit, promised_on=today)
        other = StockItemFactory(shop=shop, supplier="North")
        for days in (2, 3, 7):
            assert "Foot seal takes 20 days to come" in known(promise_of(ticket, today)).reason
            order = place_order(shop=shop, supplier="North", quantities={other.pk: Decimal(1)}, by=None)
            receive_goods(order=order, seen_version=1, quantities={order.lines.get().pk: Decimal(1)}, by=None)
            type(order).objects.filter(pk=order.pk).update(sent_at=order.deliveries.get().at - days * DAY)
        assert "Foot seal takes 3 days to come" in known(promise_of(ticket, today)).reason
        PartLineFactory(ticket=ticket, part=seal.part)  # firm, it is reckoned alike
        assert "Foot seal takes 3 days to come" in known(promise_of(ticket, today)).reason

    def test_two_bookings_do_not_both_count_on_the_last_one(
        self, shop: Shop, unit: SuspensionUnit, seal: StockItem, today: dt.date
    ) -> None:
        StockMovementFactory(item=seal, quantity=1)
        second = SuspensionUnitFactory(shop=shop, model=unit.model)
        for one in (unit, second):
            TicketFactory(shop=shop, customer=one.customer, unit=one, promised_on=today + 5 * DAY)
        (danger,) = promises_in_danger(shop, today)
        assert danger.ticket_pk == Ticket.objects.get(unit=second).pk

    def test_what_the_mechanic_says_is_needed_takes_its_place(
        self, shop: Shop, unit: SuspensionUnit, today: dt.date
    ) -> None:
        ticket = TicketFactory(shop=shop, customer=unit.customer, unit=unit, promised_on=today + 5 * DAY)
        assert promise_of(ticket, today) is not None
        there = StockMovementFactory(item__shop=shop).item
        PartLineFactory(ticket=ticket, part=there.part)
        assert promise_of(ticket, today) is None
