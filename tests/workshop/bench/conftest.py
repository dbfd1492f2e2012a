"""A mechanic with a fork that sits low on the bench. Records are imported late: this file is read before Django is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from django.test import Client

if TYPE_CHECKING:
    from diagnosis.models import Run
    from workshop.models import Shop, Ticket, User


@pytest.fixture
def mechanic(db: None) -> User:
    from tests.factories import UserFactory

    return UserFactory(mechanic=True)


@pytest.fixture
def shop(mechanic: User) -> Shop:
    assert mechanic.shop is not None
    return mechanic.shop


@pytest.fixture
def bench(client: Client, mechanic: User) -> Client:
    client.force_login(mechanic)
    return client


@pytest.fixture
def ticket(shop: Shop, mechanic: User) -> Ticket:
    """A fork that sits low, on the mechanic's bench."""
    from tests.factories import TicketFactory
    from tests.shipped import shipped_checklist

    ticket = TicketFactory(shop=shop, state="on_the_bench", mechanic=mechanic)
    ticket.complaints.add(shipped_checklist("sits-low").complaint)
    return ticket


@pytest.fixture
def run(ticket: Ticket, mechanic: User) -> Run:
    from diagnosis.models import Checklist
    from diagnosis.runs import start_run
    from tests.factories import TicketRunFactory

    checklist = Checklist.objects.get(key="sits-low", is_current=True)
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return run
