"""What was written down wrongly and is noticed later: of a unit while it is here, and what was said of a ticket."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Unpack

from django.core.exceptions import ValidationError
from django.db import transaction

from diagnosis.models import Complaint
from workshop.customers.privacy_models import Erasure
from workshop.staff.models import User
from workshop.suspension.editing import edit_unit
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import UnitEntries
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.tickets.search_text import ticket_search_text
from workshop.web.versions import take_version

LONGEST_REASON = 200


@transaction.atomic
def correct_unit(
    *, unit: SuspensionUnit, by: User | None, seen_version: int, **entries: Unpack[UnitEntries]
) -> SuspensionUnit:
    """Replace entries of a unit; the logbook of the ticket it is here on says who changed what.

    Raises StaleVersion or ValidationError, as `edit_unit`.
    """
    before = {name: _plain(getattr(unit, name)) for name in entries}
    edit_unit(unit=unit, seen_version=seen_version, **entries)
    after = {name: _plain(getattr(unit, name)) for name in entries}
    changes = {f"unit_{name}": [before[name], after[name]] for name in entries if after[name] != before[name]}
    for ticket in Ticket.objects.open().filter(unit=unit) if changes else []:
        log(ticket=ticket, by=by, kind="unit_corrected", changes=changes)
    return unit


@transaction.atomic
def correct_words(
    *,
    ticket: Ticket,
    by: User | None,
    seen_version: int,
    complaint_words: str,
    complaints: Iterable[Complaint],
    notes: str,
    reason: str,
) -> Ticket:
    """Put right what the customer said and what was made of it, of a closed ticket too: day and price stay as agreed.

    Raises:
        ValidationError: no reason or no words, or the person was erased.
        StaleVersion: somebody changed the ticket after it was opened.
    """
    take_version(ticket, seen_version)
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is changed."})
    if not complaint_words.strip():
        raise ValidationError({"complaint_words": "Enter what the customer said."})
    if Erasure.objects.filter(customer=ticket.customer_id).exists():
        raise ValidationError("This person was erased, and their words with them.")
    before = _said(ticket)
    ticket.complaint_words, ticket.notes = complaint_words.strip(), notes.strip()
    ticket.search_text = ticket_search_text(ticket)
    ticket.save(update_fields=["complaint_words", "notes", "search_text"])
    ticket.complaints.set(complaints)
    changes = {key: [before[key], value] for key, value in _said(ticket).items() if value != before[key]}
    if changes:
        said = {"reason": reason.strip()[:LONGEST_REASON]}
        log(ticket=ticket, by=by, kind="put_right", values=said, changes=changes)
    return ticket


def _said(ticket: Ticket) -> dict[str, Any]:
    """By field, as the history keeps it."""
    return {
        "complaint_words": ticket.complaint_words,
        "complaints": [str(complaint) for complaint in ticket.complaints.all()],
        "notes": ticket.notes,
    }


def _plain(value: Any) -> Any:
    """A value of a unit as plain JSON; of a model its name."""
    return value if value is None or isinstance(value, str | float | int) else str(value)
