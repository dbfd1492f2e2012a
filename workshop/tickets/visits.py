"""Visits: what came in together and with what, joined and split by hand where the booking was not so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext, gettext_noop

from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket, Visit
from workshop.tickets.refusals import UnlawfulMove
from workshop.web.number_words import plain_money
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import StaleVersion, take_version

NO_VISIT_YET = 0
LONGEST_REASON = 200
LOOSE_PARTS: Mapping[str, str] = {
    "axle": gettext_noop("axle"),
    "wheel": gettext_noop("wheel"),
    "pump": gettext_noop("pump"),
    "spacers": gettext_noop("spacers"),
    "remote": gettext_noop("remote"),
}


@dataclass(frozen=True)
class CameWith:
    """Loose parts that came with the units, where they lie, how all of it came and how it goes, and what may be spent
    on all of it together.
    """

    loose: Sequence[str] = ()
    loose_words: str = ""
    shelf: str = ""
    came_by: str = Visit.Way.COUNTER
    came_carrier: str = ""
    came_number: str = ""
    goes_by: str = Visit.Way.COUNTER
    goes_carrier: str = ""
    goes_number: str = ""
    price_ceiling: Decimal | None = None

    @property
    def is_empty(self) -> bool:
        return not self.loose and replace(self, loose=()) == CameWith()

    @classmethod
    def of(cls, visit: Visit | None) -> CameWith:
        if visit is None:
            return cls()
        return cls(**{one.name: getattr(visit, one.name) for one in fields(cls)})


@dataclass(frozen=True)
class Together:
    """The other tickets of a ticket's visit, and what is noted of it in words."""

    others: Sequence[Ticket] = ()
    loose: str = ""
    shelf: str = ""
    came: str = ""
    goes: str = ""


def visit_as_shown(ticket: Ticket) -> Together:
    """What a ticket's page says of its visit; no query for a ticket without one, else one."""
    visit = ticket.visit
    if visit is None:
        return Together()
    return Together(
        others=others_of(ticket),
        loose=loose_in_words(visit),
        shelf=visit.shelf,
        came=way_in_words(visit.came_by, visit.came_carrier, visit.came_number),
        goes=way_in_words(visit.goes_by, visit.goes_carrier, visit.goes_number),
    )


def others_of(ticket: Ticket) -> list[Ticket]:
    """The other tickets of its visit, the lowest number first; none where it has no visit."""
    if ticket.visit_id is None:
        return []
    beside = Ticket.objects.filter(visit=ticket.visit_id).exclude(pk=ticket.pk)
    return list(beside.select_related("unit__model", "bike").order_by("number"))


def loose_in_words(visit: Visit | None) -> str:
    """“axle, wheel, red cap”; empty where nothing was noted."""
    if visit is None:
        return ""
    named = [gettext(words) for key, words in LOOSE_PARTS.items() if key in visit.loose]
    return ", ".join([*named, *([visit.loose_words] if visit.loose_words else [])])


def way_in_words(way: str, carrier: str, number: str) -> str:
    """“by parcel, Swiftwheel, 00 12 A”."""
    label = str(Visit.Way(way).label)
    return ", ".join([f"{label[:1].lower()}{label[1:]}", *(words for words in (carrier, number) if words)])


@transaction.atomic
def note_visit(*, ticket: Ticket, by: User | None, seen_version: int, came_with: CameWith) -> Visit:
    """Write down, or correct, what came with a ticket's visit; the logbook of each of its tickets says so.

    Args:
        seen_version: of the visit that was corrected, NO_VISIT_YET where the ticket has none.

    Raises:
        StaleVersion: somebody noted or changed it meanwhile.
        ValidationError: a carrier without a parcel, an unknown loose part, or words that are too long.
    """
    visit = _visit_of(ticket, seen_version)
    if unknown := set(came_with.loose) - set(LOOSE_PARTS):
        raise ValidationError({"loose": f"There is no loose part “{sorted(unknown)[0]}”."})
    before = _noted(visit)
    for name, value in asdict(came_with).items():
        setattr(visit, name, list(value) if name == "loose" else value.strip() if isinstance(value, str) else value)
    _check_ways(visit)
    visit.full_clean(exclude=["shop"], validate_constraints=False)
    visit.save()
    changes = {key: [before[key], value] for key, value in _noted(visit).items() if value != before[key]}
    if changes:
        for one in Ticket.objects.filter(visit=visit):
            log(ticket=one, by=by, kind="visit_noted", changes=changes)
    return visit


def put_beside(*, ticket: Ticket, beside: Ticket, by: User | None) -> None:
    """Put a ticket that was just booked into the visit of another, in the booking's own transaction.

    Raises ValidationError: that ticket is another customer's.
    """
    if beside.customer_id != ticket.customer_id:
        raise ValidationError(_OF_ONE.format(number=beside.number, customer=beside.customer))
    _into(ticket, beside, by, "")


@transaction.atomic
def join_visit(*, ticket: Ticket, beside: Ticket, by: User | None, seen_version: int, reason: str) -> None:
    """Put a ticket into the visit of another of its customer; what was noted of it alone is added to that.

    Raises:
        UnlawfulMove: it is another customer's, itself, or there already.
        ValidationError: no reason.
        StaleVersion: somebody changed the ticket after it was opened.
    """
    take_version(ticket, seen_version)
    if not reason.strip():
        raise ValidationError({"reason": "Say why they belong together."})
    fresh = _held(beside)
    if fresh.pk == ticket.pk or (ticket.visit_id is not None and fresh.visit_id == ticket.visit_id):
        raise UnlawfulMove(f"Tickets {ticket.number} and {fresh.number} are of one visit already.")
    if fresh.customer_id != ticket.customer_id:
        raise UnlawfulMove(_OF_ONE.format(number=fresh.number, customer=fresh.customer))
    _into(ticket, fresh, by, reason)


@transaction.atomic
def split_off(*, ticket: Ticket, by: User | None, seen_version: int, reason: str) -> None:
    """Take a ticket out of its visit. What was noted of the visit stays with the others.

    Raises:
        UnlawfulMove: it came alone.
        ValidationError: no reason.
        StaleVersion: somebody changed the ticket after it was opened.
    """
    take_version(ticket, seen_version)
    if not reason.strip():
        raise ValidationError({"reason": "Say why it does not belong there."})
    others = others_of(ticket)
    if not others:
        raise UnlawfulMove(f"Ticket {ticket.number} came alone: there is nothing to split.")
    leave_visit(ticket=ticket, others=others, by=by, reason=reason)


@transaction.atomic
def promise_together(*, ticket: Ticket, by: User | None, seen_version: int, day: dt.date) -> int:
    """Promise all open tickets of a visit for one day; returns how many were promised for another.

    Raises:
        ValidationError: the ticket is closed or came alone, or the day cannot be meant.
        StaleVersion: somebody changed the ticket after it was opened.
    """
    take_version(ticket, seen_version)
    refuse_day("day", day, DayKind.PROMISED)
    together = [one for one in (ticket, *others_of(ticket)) if one.is_open]
    if ticket not in together or len(together) == 1:
        raise ValidationError({"day": "Nothing else of this visit is open. Change what was agreed on the ticket."})
    otherwise = [one for one in together if one.promised_on != day]
    for one in otherwise:
        changes = {"promised_on": [one.promised_on.isoformat(), day.isoformat()]}
        Ticket.objects.filter(pk=one.pk).update(promised_on=day)
        if one != ticket:  # whoever has it open is told
            Ticket.objects.filter(pk=one.pk).update(version=F("version") + 1)
        log(ticket=one, by=by, kind="agreement_changed", changes=changes)
    return len(otherwise)


def leave_visit(*, ticket: Ticket, others: Sequence[Ticket], by: User | None, reason: str) -> None:
    """Out of the visit it shares with `others`, in the caller's transaction."""
    ticket.visit = None
    ticket.save(update_fields=["visit"])
    said = {"number": ticket.number, "reason": reason.strip()[:LONGEST_REASON]}
    for one in (ticket, *others):
        log(ticket=one, by=by, kind="visit_split", values=said)


_OF_ONE = "Ticket {number} is {customer}’s. A visit is of one customer."


def _into(ticket: Ticket, beside: Ticket, by: User | None, reason: str) -> None:
    alone = ticket.visit if ticket.visit is not None and not others_of(ticket) else None
    if beside.visit is None:
        beside.visit = alone or Visit.objects.create(shop=ticket.shop)
        Ticket.objects.filter(pk=beside.pk).update(visit=beside.visit)
    elif alone is not None:
        _add_to(beside.visit, alone)
    ticket.visit = beside.visit
    ticket.save(update_fields=["visit"])
    said = {"number": ticket.number, "beside": beside.number, "reason": reason.strip()[:LONGEST_REASON]}
    for one in (ticket, *others_of(ticket)):
        log(ticket=one, by=by, kind="visit_joined", values=said)


def _add_to(visit: Visit, alone: Visit) -> None:
    """What was noted of a ticket alone, added to the visit it goes into; of two places on the shelf both are kept.

    Of two price ceilings the lower one stays: nobody said yet that both may be spent.
    """
    visit.loose = [key for key in LOOSE_PARTS if key in visit.loose or key in alone.loose]
    for name in ("loose_words", "shelf"):
        ours, theirs = getattr(visit, name), getattr(alone, name)
        if theirs and theirs != ours:
            longest = getattr(Visit._meta.get_field(name), "max_length", None)
            setattr(visit, name, f"{ours}; {theirs}"[:longest] if ours else theirs)
    ceilings = [one.price_ceiling for one in (visit, alone) if one.price_ceiling is not None]
    visit.price_ceiling = min(ceilings, default=None)
    visit.version += 1
    visit.save()


def _held(ticket: Ticket) -> Ticket:
    """The ticket as it is once it is ours, until the transaction ends.

    Two statements: a row that was waited for comes with the visit it had before, where both are asked for in one.
    """
    Ticket.objects.select_for_update(no_key=True).only("pk").get(pk=ticket.pk)
    return Ticket.objects.select_related("visit", "customer").get(pk=ticket.pk)


def _visit_of(ticket: Ticket, seen_version: int) -> Visit:
    """The ticket's visit, taken; a new one where it has none yet."""
    fresh = _held(ticket)
    if fresh.visit is not None:
        return take_version(fresh.visit, seen_version)
    if seen_version != NO_VISIT_YET:
        raise StaleVersion(ticket)
    ticket.visit = Visit.objects.create(shop=ticket.shop)
    Ticket.objects.filter(pk=ticket.pk).update(visit=ticket.visit)
    return ticket.visit


def _check_ways(visit: Visit) -> None:
    wrong: dict[str, str] = {}
    for way in ("came", "goes"):
        for what in ("carrier", "number"):
            if getattr(visit, f"{way}_by") != Visit.Way.PARCEL and getattr(visit, f"{way}_{what}"):
                wrong[f"{way}_{what}"] = "Only a parcel has one. Choose “By parcel”, or leave it empty."
    if wrong:
        raise ValidationError(wrong)


def _noted(visit: Visit) -> dict[str, Any]:
    """What is noted of a visit, by the keys of the logbook."""
    return {
        "loose": sorted(visit.loose),
        "loose_words": visit.loose_words,
        "shelf": visit.shelf,
        "price_together": None if visit.price_ceiling is None else plain_money(visit.price_ceiling),
        "came": [visit.came_by, visit.came_carrier, visit.came_number],
        "goes": [visit.goes_by, visit.goes_carrier, visit.goes_number],
    }
