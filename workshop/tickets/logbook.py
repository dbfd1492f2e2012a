"""The logbook of a ticket: each change to it, with who and when."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from workshop.staff.models import User
from workshop.tickets.models import Ticket, TicketEvent


def log(
    *,
    ticket: Ticket,
    by: User | None,
    kind: str = "",
    values: Mapping[str, Any] | None = None,
    changes: Mapping[str, list[Any]] | None = None,
    text: str = "",
) -> TicketEvent:
    """Add a line by keys; its words are made when it is shown.

    Args:
        kind: a key of workshop.work.event_words.KINDS.
        values: what the words of that kind are made of, as plain JSON.
        changes: maps a key of FIELDS there to [before, after], as plain JSON.
        text: ready words, of a line that has no kind; erasing a person takes them away whole.
    """
    event = TicketEvent(
        ticket=ticket, by=by, at=timezone.now(), kind=kind, values=dict(values or {}), changes=dict(changes or {}),
        text=text,
    )  # fmt: skip
    event.full_clean(exclude=["ticket", "by"])
    event.save()
    return event
