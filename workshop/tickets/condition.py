"""Marks and damage seen on a unit."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import ConditionNote, Ticket

PLACES = (
    "Left stanchion",
    "Right stanchion",
    "Both stanchions",
    "Crown and steerer",
    "Lower legs",
    "Shock body",
    "Air valve",
    "Knobs",
    "Axle and dropouts",
    "Mounting hardware",
)


@transaction.atomic
def add_condition_note(*, ticket: Ticket, by: User | None, place: str, text: str) -> ConditionNote:
    """Note a mark and where it is. Raises ValidationError."""
    note = ConditionNote(ticket=ticket, place=place.strip(), text=text.strip(), by=by, at=timezone.now())
    note.full_clean(exclude=["ticket", "by"])
    note.save()
    log(ticket=ticket, by=by, kind="condition_noted", values={"place": note.place, "text": note.text})
    return note
