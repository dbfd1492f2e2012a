"""Changes to what was agreed on a ticket, each kept in its logbook."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.staff.models import User
from workshop.tickets.booking import Agreed
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.tickets.search_text import ticket_search_text
from workshop.web.number_words import plain_money
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version


@transaction.atomic
def edit_ticket(
    *,
    ticket: Ticket,
    by: User | None,
    seen_version: int,
    agreed: Agreed,
) -> Ticket:
    """Replace what was agreed, and write before and after into the logbook.

    Raises:
        StaleVersion: somebody changed the ticket after it was opened.
        ValidationError: a value is not acceptable, or the ticket is closed.
    """
    take_version(ticket, seen_version)
    if not ticket.is_open:
        raise ValidationError("This ticket is closed. Book the unit in again for further work.")
    refuse_day("promised_on", agreed.promised_on, DayKind.PROMISED, kept=ticket.promised_on)
    before = _agreed(ticket)
    ticket.complaint_words, ticket.notes = agreed.complaint_words.strip(), agreed.notes.strip()
    ticket.promised_on, ticket.price_ceiling = agreed.promised_on, agreed.price_ceiling
    ticket.no_limit_said = agreed.no_limit_said
    ticket.search_text = ticket_search_text(ticket)
    ticket.full_clean(exclude=["shop", "customer", "unit", "bike", "mechanic", "booked_by"])
    fields = ("complaint_words", "notes", "promised_on", "price_ceiling", "no_limit_said", "search_text")
    ticket.save(update_fields=fields)
    ticket.complaints.set(agreed.complaints)
    changes = {key: [before[key], value] for key, value in _agreed(ticket).items() if value != before[key]}
    if changes:
        log(ticket=ticket, by=by, kind="agreement_changed", changes=changes)
    return ticket


def _agreed(ticket: Ticket) -> dict[str, Any]:
    """What was agreed, by field, as the history keeps it."""
    ceiling = ticket.price_ceiling
    return {
        "complaint_words": ticket.complaint_words,
        "complaints": [str(complaint) for complaint in ticket.complaints.all()],
        "promised_on": ticket.promised_on.isoformat(),
        "price_ceiling": None if ceiling is None else plain_money(ceiling),
        "no_limit_said": ticket.no_limit_said,
        "notes": ticket.notes,
    }
