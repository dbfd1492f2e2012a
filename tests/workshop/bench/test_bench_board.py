"""What the board shows, and taking a ticket onto the bench."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.bench_runs import url
from tests.factories import (
    TicketFactory,
    UserFactory,
)
from workshop.models import Shop, SuspensionUnit, Ticket, User
from workshop.work.moves import move

pytestmark = pytest.mark.django_db


def test_my_tickets_the_next_by_promise_and_what_waits(bench: Client, shop: Shop, mechanic: User) -> None:
    TicketFactory(shop=shop, number=101, state="on_the_bench", mechanic=mechanic)
    TicketFactory(shop=shop, number=102)
    TicketFactory(shop=shop, number=103, waiting=True)
    context = bench.get(reverse("bench:board")).context
    assert [ticket.number for ticket in context["mine"].tickets] == [101]
    assert [ticket.number for ticket in context["next_to_take"].tickets] == [102]
    assert [ticket.number for ticket in context["waiting"].tickets] == [103]


def test_another_shops_tickets_are_not_there(bench: Client) -> None:
    TicketFactory(number=104)
    assert bench.get(reverse("bench:board")).context["next_to_take"].tickets == []
    assert bench.get(reverse("bench:ticket", args=[104])).status_code == 404


def test_a_thousand_tickets_take_as_many_queries_as_ten(bench: Client, shop: Shop, mechanic: User) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench.get(reverse("bench:board")).status_code == 200
        return len(captured)

    first = TicketFactory(shop=shop)
    units = SuspensionUnit.objects.bulk_create(
        SuspensionUnit(shop=shop, customer=first.customer, model=first.unit.model, search_text="x") for _ in range(1000)
    )
    many = [
        Ticket(
            shop=shop, number=first.number + 1 + n, customer=first.customer, unit=units[n], complaint_words="x",
            state="on_the_bench" if n % 7 == 0 else "booked_in", mechanic=mechanic if n % 7 == 0 else None,
            state_since=first.state_since, booked_at=first.booked_at, promised_on=first.promised_on,
            search_text="x",
        )
        for n in range(1000)
    ]  # fmt: skip
    Ticket.objects.bulk_create(many[:10])
    with_ten = queries()
    Ticket.objects.bulk_create(many[10:])
    # Two more: how many there are in all, where not all are shown.
    assert queries() <= with_ten + 2


def test_taking_a_ticket_puts_it_on_the_mechanics_bench(bench: Client, shop: Shop, mechanic: User) -> None:
    ticket = TicketFactory(shop=shop)
    answer = bench.post(url("take", ticket), {"version": ticket.version})
    assert answer.status_code == 302
    ticket.refresh_from_db()
    assert (ticket.state, ticket.mechanic) == ("on_the_bench", mechanic)


def test_a_ticket_that_somebody_else_took_says_so(bench: Client, shop: Shop) -> None:
    ticket = TicketFactory(shop=shop)
    other = UserFactory(shop=shop, mechanic=True)
    move(ticket=ticket, to_state="on_the_bench", by=other, seen_version=1)
    answer = bench.post(url("take", ticket), {"version": 1})
    assert answer.status_code == 409
    assert "Somebody changed this ticket meanwhile" in answer.text


def test_the_counter_looks_but_does_not_take(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop))
    ticket = TicketFactory(shop=shop)
    assert "Start<span" not in client.get(reverse("bench:board")).text
    assert client.post(url("take", ticket), {"version": 1}).status_code == 403
