"""A photo or a mark that does not belong on a ticket is taken off it, and kept as removed."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import ConditionNote, Photo, Ticket
from workshop.web.versions import take_version

LONGEST_REASON = 200


@transaction.atomic
def remove_photo(*, ticket: Ticket, photo: Photo, by: User | None, seen_version: int, reason: str) -> None:
    """Show and print a photo no more. Papers printed before keep it.

    Raises:
        ValidationError: no reason.
        StaleVersion: somebody changed the ticket after it was opened.
    """
    _remove(ticket, photo, by, seen_version, reason, "photo_removed", {"caption": photo.caption})


@transaction.atomic
def remove_mark(*, ticket: Ticket, note: ConditionNote, by: User | None, seen_version: int, reason: str) -> None:
    """Show and print a mark no more. Papers printed before keep it. Raises as `remove_photo`."""
    _remove(ticket, note, by, seen_version, reason, "mark_removed", {"place": note.place, "text": note.text})


def _remove(
    ticket: Ticket,
    row: Photo | ConditionNote,
    by: User | None,
    seen: int,
    reason: str,
    kind: str,
    values: dict[str, Any],
) -> None:
    take_version(ticket, seen)
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is removed."})
    row.removed_at, row.removed_by = timezone.now(), by
    row.save(update_fields=["removed_at", "removed_by"])
    log(ticket=ticket, by=by, kind=kind, values={**values, "reason": reason.strip()[:LONGEST_REASON]})
