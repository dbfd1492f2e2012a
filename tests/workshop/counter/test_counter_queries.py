"""Each page asks the database as often with a thousand tickets as with ten."""

from __future__ import annotations

import itertools

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests import factories
from tests.known import known
from workshop.models import Bike, ConditionNote, Customer, Fitting, Shop, SuspensionUnit, Ticket, TicketEvent

pytestmark = pytest.mark.django_db
STATES = ("booked_in", "on_the_bench", "waiting", "ready", "handed_back")


def fill(shop: Shop, count: int) -> None:
    """`count` customers, each with a bike, a fork on it and a ticket in one of the states."""
    now, start = timezone.now(), Ticket.objects.count()
    model = factories.SuspensionModelFactory()
    customers = Customer.objects.bulk_create(
        Customer(shop=shop, name=f"Jana {n}", phone=f"0555 {n:06}", search_text=f"jana {n} 0555{n:06}")
        for n in range(start, start + count)
    )
    bikes = Bike.objects.bulk_create(Bike(customer=c, description="Green", search_text="green") for c in customers)
    units = SuspensionUnit.objects.bulk_create(
        SuspensionUnit(shop=shop, customer=c, model=model, serial=f"JA{c.pk}", search_text=f"plume ja{c.pk}")
        for c in customers
    )
    Fitting.objects.bulk_create(Fitting(unit=u, bike=b, since=now.date()) for u, b in zip(units, bikes, strict=True))
    numbers, states = itertools.count(start + 1), itertools.cycle(STATES)
    tickets = Ticket.objects.bulk_create(
        Ticket(
            shop=shop, number=next(numbers), customer=u.customer, unit=u, bike=b, complaint_words="Sits low.",
            state=(state := next(states)), waiting_for="customer" if state == "waiting" else "", state_since=now,
            promised_on=now.date(), booked_at=now, search_text="sits low",
        )
        for u, b in zip(units, bikes, strict=True)
    )  # fmt: skip
    TicketEvent.objects.bulk_create(TicketEvent(ticket=t, at=now, kind="booked_in") for t in tickets)


def more_of_one(ticket: Ticket, count: int) -> None:
    """A long history: marks, lines of the logbook, further tickets of the same customer and unit."""
    now = timezone.now()
    ConditionNote.objects.bulk_create(
        ConditionNote(ticket=ticket, place="Crown", text="Scratch", at=now, by=ticket.booked_by) for _ in range(count)
    )
    TicketEvent.objects.bulk_create(
        TicketEvent(ticket=ticket, at=now, text="Note", by=ticket.booked_by) for _ in range(count)
    )
    factories.PhotoFactory.create_batch(count, ticket=ticket, by=ticket.booked_by)
    factories.PartLineFactory.create_batch(count, ticket=ticket)
    start = Ticket.objects.count()
    for n in range(count):
        factories.TicketFactory(
            shop=ticket.shop, customer=ticket.customer, unit=ticket.unit, bike=ticket.bike, number=start + n + 1,
            state="handed_back",
        )  # fmt: skip


def test_pages_ask_as_often_with_a_thousand_tickets_as_with_ten(client: Client) -> None:
    clerk = factories.UserFactory()
    client.force_login(clerk, backend="workshop.staff.backend.StaffBackend")
    fill(known(clerk.shop), 10)
    ticket = Ticket.objects.select_related("customer", "unit", "bike").get(number=4)
    Ticket.objects.filter(pk=ticket.pk).update(booked_by=clerk)
    ticket.booked_by = clerk
    more_of_one(ticket, 2)
    customer, unit, bike = [ticket.customer_id], [ticket.unit_id], [ticket.bike_id]
    pages = {
        "today": reverse("counter:today"),
        "outlook": reverse("counter:outlook"),
        "tickets": reverse("counter:tickets"),
        "late": reverse("counter:tickets") + "?show=late",
        "ticket": reverse("counter:ticket", args=[4]),
        "logbook": reverse("counter:logbook", args=[4]),
        "parts and charges": reverse("bench:parts_and_charges", args=[4]),
        "hand back": reverse("counter:hand_back", args=[4]),
        "agreement": reverse("counter:edit_agreement", args=[4]),
        "search": reverse("counter:search") + "?q=jana",
        "customers": reverse("counter:customers"),
        "customer": reverse("counter:customer", args=customer),
        "bike": reverse("counter:bike", args=bike),
        "unit": reverse("counter:unit", args=unit),
        "book in": reverse("counter:book_in") + f"?customer={ticket.customer_id}",
    }

    def counted() -> dict[str, int]:
        counts = {}
        for name, address in pages.items():
            client.get(address)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(address).status_code == 200, name
            counts[name] = len(queries)
        return counts

    with_ten = counted()
    fill(known(clerk.shop), 990)
    more_of_one(ticket, 20)
    assert counted() == with_ten
    assert max(with_ten.values()) <= 26, with_ten
