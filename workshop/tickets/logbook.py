"""The logbook of a ticket: each change to it, with who and when."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from workshop.staff.models import User
from workshop.tickets.models import Ticket, TicketEvent


def log(*, ticket: Ticket, by: User | None, text: str, changes: Mapping[str, list[Any]] | None = None) -> TicketEvent:
    """Add a line. `changes` maps a field's label to [before, after], as text the shop reads."""
    event = TicketEvent(ticket=ticket, by=by, at=timezone.now(), text=text, changes=dict(changes or {}))
    event.full_clean(exclude=["ticket", "by"])
    event.save()
    return event
