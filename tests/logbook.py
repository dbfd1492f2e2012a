"""What the lines of a ticket's logbook say, the newest first."""

from __future__ import annotations

from workshop.tickets.models import Ticket, TicketEvent
from workshop.work.event_words import changes_of, logged_words


def said(event: TicketEvent | None) -> str:
    assert event is not None
    return logged_words(event, event.ticket.shop)


def logged(ticket: Ticket) -> list[str]:
    return [said(event) for event in ticket.events.all()]


def changed(event: TicketEvent | None) -> dict[str, list[str]]:
    assert event is not None
    return {change.label: [change.before, change.after] for change in changes_of(event, event.ticket.shop)}
