"""Tickets at the till: one that is ready with something to pay, and handing it over."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.utils import timezone

from tests.factories import TicketFactory
from workshop.models import HandOver, LabourLine, Ticket
from workshop.tickets.settings_record import Settings
from workshop.till.taking import PaidPart
from workshop.work.hand_over import Along, HowPaid, hand_over


def ready_ticket(price: str | Decimal = "80.00", **fields: Any) -> Ticket:
    """A ticket that is ready, with labour at this price."""
    ticket = TicketFactory(**{"state": "ready", **fields})
    if Decimal(price):
        LabourLine.objects.create(ticket=ticket, words="Lowers", price=Decimal(price), at=timezone.now())
    return ticket


def part(kind: str, amount: str | Decimal, given: str | None = None) -> PaidPart:
    return PaidPart(kind, Decimal(amount), None if given is None else Decimal(given))


def hand_it_over(
    ticket: Ticket, *parts: PaidPart, client_id: uuid.UUID | None = None, along: Sequence[Ticket] = (), **paid: Any
) -> HandOver:
    """Handed over and paid like that, by nobody, with what goes along."""
    known = Ticket.objects.select_related("shop").get(pk=ticket.pk)  # as a page does: what was refused leaves no trace
    done = hand_over(
        ticket=known,
        by=None,
        seen_version=known.version,
        settings=Settings(),
        paid=HowPaid(parts=parts, **paid),
        client_id=client_id or uuid.uuid4(),
        along=[Along(one, one.version) for one in along],
    )
    ticket.refresh_from_db(fields=["state", "version"])
    return done
