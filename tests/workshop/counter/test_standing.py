"""“Is it ready?”: one field with the focus, and what a caller asks about beside what was found."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests import factories as make
from tests.squeezed import squeezed
from workshop.charges.so_far import mark_price_so_far
from workshop.charges.ticket_charges import charges_of
from workshop.customers.adding import add_customer
from workshop.models import LabourLine, Shop, StateMove, Ticket
from workshop.promise.models import BenchCapacity
from workshop.tickets.contacts import log_call

pytestmark = pytest.mark.django_db
HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def shop() -> Shop:
    return make.ShopFactory.create()


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(make.UserFactory.create(shop=shop), backend="workshop.staff.backend.StaffBackend")
    return client


def a_ticket(shop: Shop, **fields: Any) -> Ticket:
    owner = add_customer(shop=shop, by=None, name="Hesper Umberlow", phone="01632 960 021")
    return make.TicketFactory.create(shop=shop, customer=owner, unit__shop=shop, unit__customer=owner, **fields)


def standing(counter: Client, *tickets: Ticket) -> str:
    asked = {"t": [str(ticket.number) for ticket in tickets]}
    return squeezed(counter.get(reverse("counter:standing"), asked, **HTMX).text)


def charge(ticket: Ticket, amount: str, **fields: Any) -> None:
    LabourLine.objects.create(ticket=ticket, words="Work", price=Decimal(amount), at=timezone.now(), **fields)


def test_the_field_has_the_focus_when_the_page_opens(counter: Client) -> None:
    page = counter.get(reverse("counter:today")).text
    assert page.count("autofocus") == 1
    assert "autofocus" in page[page.index('id="lookup"') :].partition(">")[0]


@pytest.mark.parametrize("typed", ["hesper", "0021", "960 021", "umber"])
def test_what_is_found_asks_at_once_how_it_stands(counter: Client, shop: Shop, typed: str) -> None:
    ticket = a_ticket(shop, state="ready", number=88_123)
    found = counter.get(reverse("counter:search"), {"q": typed}, **HTMX).text
    assert f"{reverse('counter:standing')}?t={ticket.number}" in found


def test_state_price_and_the_last_call_are_told(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop, state="ready")
    charge(ticket, "115.00")
    charge(ticket, "9.00", dropped=True)
    log_call(ticket=ticket, outcome="no_answer", by=None, rang_at=dt.time(0, 0))
    told = standing(counter, ticket)
    for words in ("Hesper Umberlow", "Ready", "promised", "115.00", "no answer"):
        assert words in told


def test_what_it_waits_for_and_that_nothing_is_charged(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop, state="waiting", waiting_for="parts")
    StateMove.objects.create(ticket=ticket, to_state="waiting", waiting_for="parts", reason="Wiper is ordered",
                             at=timezone.now())  # fmt: skip
    told = standing(counter, ticket)
    for words in ("Waiting for parts", "Wiper is ordered", "Nothing charged so far", "Not rung or told yet"):
        assert words in told


def test_a_promise_that_will_not_hold_says_so_and_why(counter: Client, shop: Shop) -> None:
    BenchCapacity.objects.create(shop=shop, hours_a_day=Decimal("0.25"), closed_weekdays=[], usual_minutes=600)
    ticket = a_ticket(shop, state="booked_in", promised_on=timezone.localdate() + dt.timedelta(days=2))
    told = standing(counter, ticket)
    assert "Will not hold" in told
    assert "Realistic" in told


def test_a_line_without_a_price_is_said(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop, state="on_the_bench")
    charge(ticket, "20.00")
    make.PartLineFactory.create(ticket=ticket, unit_price=None)
    assert "and 1 line without a price" in standing(counter, ticket)


def test_only_what_is_in_this_shop_is_shown_in_the_order_asked(counter: Client, shop: Shop) -> None:
    first, second = a_ticket(shop, number=7001), a_ticket(shop, number=7002)
    gone, elsewhere = a_ticket(shop, number=7003, state="handed_back"), make.TicketFactory.create(number=7004)
    asked = {"t": [str(one.number) for one in (gone, second, elsewhere, first)] + ["x", "9" * 40]}
    response = counter.get(reverse("counter:standing"), asked)
    assert response.context["tickets"] == [second, first]
    assert "None of these is in the shop now." in counter.get(reverse("counter:standing")).text


@pytest.mark.parametrize("state", ["booked_in", "on_the_bench", "ready"])
def test_the_price_so_far_is_that_of_the_tickets_own_page(shop: Shop, state: str) -> None:
    ticket = a_ticket(shop, state=state)
    charge(ticket, "20.00")
    for status in ("needed", "used", "dropped"):
        make.PartLineFactory.create(ticket=ticket, unit_price=Decimal("3.30"), quantity=2, status=status)
    for dropped in (False, True):
        ticket.discounts.create(off="labour", amount=Decimal(4), reason="Late", at=timezone.now(), dropped=dropped)
    mark_price_so_far(shop, [ticket])
    assert ticket.so_far == charges_of(ticket)  # type: ignore[attr-defined]


def test_more_tickets_ask_no_more_queries(counter: Client, shop: Shop) -> None:
    def asked(*tickets: Ticket) -> int:
        with CaptureQueriesContext(connection) as queries:
            standing(counter, *tickets)
        return len(queries)

    tickets = [a_ticket(shop, state="on_the_bench") for _ in range(6)]
    for ticket in tickets:
        charge(ticket, "20.00")
        make.PartLineFactory.create(ticket=ticket)
        log_call(ticket=ticket, outcome="no_answer", by=None)
    asked(*tickets)
    assert asked(*tickets) == asked(tickets[0])


def test_no_date_beside_a_hit_is_without_its_word(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop, state="ready")
    found = squeezed(counter.get(reverse("counter:search"), {"q": "hesper"}, **HTMX).text)
    assert f"{ticket.number}, since " in found
    late = a_ticket(shop, state="booked_in", promised_on=timezone.localdate() - dt.timedelta(days=1))
    assert "promised" in standing(counter, late)
