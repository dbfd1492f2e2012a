"""Old parts of a ticket: kept, given back, thrown away with consent, sent in for warranty."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from workshop.staff.models import Shop, User
from workshop.stock.old_part_models import OldPart
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

State = OldPart.State
AWAY = (State.SENT_IN, State.ACCEPTED, State.REFUSED)
HERE = (State.KEPT, State.CAME_BACK)
_AFTER_SENDING = (State.ACCEPTED, State.REFUSED, State.CAME_BACK, State.REPLACED)
_ASKED: dict[str, str] = {
    State.THROWN_AWAY: "Say who agreed that it is thrown away.",
    State.SENT_IN: "Say where it was sent.",
}
NOT_SENT = "It was not sent in yet. Note first that it was, and where."


@transaction.atomic
def keep_old_part(*, ticket: Ticket, words: str, by: User | None) -> OldPart:
    """Note a part that came off and is kept for the customer. Raises ValidationError without words."""
    if not words.strip():
        raise ValidationError({"words": "Say which part it is."})
    part = OldPart(ticket=ticket, words=words.strip(), by=by, at=timezone.now())
    part.full_clean(exclude=["ticket", "by"], validate_constraints=False)
    part.save()
    _log(part, by)
    return part


@transaction.atomic
def change_old_part(
    *, part: OldPart, state: str, note: str, seen_version: int, by: User | None, agreed_on: dt.date | None = None
) -> OldPart:
    """It is elsewhere now, or was never where it was said to be.

    Args:
        agreed_on: when they agreed that it is thrown away; of nothing else.

    Raises:
        StaleVersion: somebody changed it meanwhile.
        ValidationError: no such state, nobody said who agreed and when or where it was sent, or an answer to what
            was never sent in.
    """
    take_version(part, seen_version)
    if state not in State.values:
        raise ValidationError({"state": "Choose where it is."})
    if not note.strip() and state in _ASKED:
        raise ValidationError({"note": _ASKED[state]})
    if state in _AFTER_SENDING and part.state not in (State.SENT_IN, *_AFTER_SENDING):
        raise ValidationError({"state": NOT_SENT})
    if state == State.THROWN_AWAY:
        if agreed_on is None:
            raise ValidationError({"agreed_on": "Say when they agreed."})
        refuse_day("agreed_on", agreed_on, DayKind.HAPPENED, kept=part.agreed_on)
    part.agreed_on = agreed_on if state == State.THROWN_AWAY else None
    part.state, part.note, part.by, part.at = state, note.strip(), by, timezone.now()
    part.full_clean(exclude=["ticket", "by"], validate_constraints=False)
    part.save()
    _log(part, by)
    return part


def old_parts_here(shop: Shop, states: Collection[str] = (*HERE, *AWAY)) -> QuerySet[OldPart]:
    """What the shop still has or waits for, the oldest first."""
    here = OldPart.objects.filter(ticket__shop=shop, state__in=states)
    return here.select_related("ticket__customer", "ticket__unit__model").order_by("at", "pk")


def old_parts_of(ticket: Ticket) -> Sequence[OldPart]:
    """All of a ticket; one query."""
    return list(OldPart.objects.filter(ticket=ticket).select_related("by"))


def _log(part: OldPart, by: User | None) -> None:
    values = {"part": part.words, "state": str(part.state), "note": part.note}
    if part.agreed_on is not None:
        values["agreed_on"] = part.agreed_on.isoformat()
    log(ticket=part.ticket, by=by, kind="old_part", values=values)
