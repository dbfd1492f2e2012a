"""Labour on a ticket: a service at the shop's price, or minutes at its rate of the day."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from diagnosis.models import Tick
from specs.models import ServiceKit
from workshop.charges.models import LONGEST_MINUTES, LabourLine, ServicePrice
from workshop.charges.sums import labour_price
from workshop.staff.models import Shop, User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.number_words import plain_money

Level = ServiceKit.Level


@transaction.atomic
def charge_service(*, ticket: Ticket, level: str, by: User | None) -> LabourLine:
    """A service of a level at the shop's price for this kind of unit. Raises ValidationError."""
    hold_open_for_labour(ticket)
    kind = ticket.unit.kind
    if level not in Level.values:
        raise ValidationError("There is no such service.")
    price = ServicePrice.objects.filter(shop=ticket.shop_id, kind=kind, level=level).first()
    words = str(Level(level).label)
    if price is None:
        raise ValidationError(f"The shop has no price for a {words.lower()} of a {kind} yet. The owner sets it.")
    if ticket.labour_lines.filter(level=level, dropped=False).exists():
        raise ValidationError(f"The {words.lower()} is on this ticket already.")
    return keep_labour(LabourLine(ticket=ticket, words=words, level=level, price=price.price, by=by))


@transaction.atomic
def charge_minutes(*, ticket: Ticket, words: str, minutes: int, by: User | None) -> LabourLine:
    """Minutes of work at the shop's rate of today. Raises ValidationError."""
    hold_open_for_labour(ticket)
    if not 0 < minutes <= LONGEST_MINUTES:
        raise ValidationError({"minutes": f"Enter minutes from 1 to {LONGEST_MINUTES:,}."})
    rate = Shop.objects.values_list("labour_rate_hour", flat=True).get(pk=ticket.shop_id)
    price = labour_price(minutes, rate)
    line = LabourLine(ticket=ticket, words=words.strip(), minutes=minutes, rate_hour=rate, price=price, by=by)
    return keep_labour(line)


@transaction.atomic
def charge_price(*, ticket: Ticket, words: str, price: Decimal, by: User | None) -> LabourLine:
    """Something at a price of its own, taxed as labour. Raises ValidationError."""
    hold_open_for_labour(ticket)
    if not words.strip():
        raise ValidationError({"words": "Say what it is for."})
    if price < 0:
        raise ValidationError({"price": "A price cannot be below zero; for that there is the discount."})
    return keep_labour(LabourLine(ticket=ticket, words=words.strip(), price=price, by=by))


@transaction.atomic
def drop_labour(*, line: LabourLine, by: User | None) -> None:
    """Not charged after all. Dropped twice is dropped once; ValidationError once it is handed back."""
    hold_open_for_labour(line.ticket)
    if LabourLine.objects.filter(pk=line.pk, dropped=False).update(dropped=True):
        log(ticket=line.ticket, by=by, kind="labour_dropped", values=_values(line))


def planned_minutes(ticket: Ticket) -> int:
    """Usual minutes of the steps that were answered on this ticket, each step once, also one that runs share."""
    ticks = Tick.objects.filter(run__in=ticket.ticket_runs.values("run"))
    answered = ticks.values_list("step__key", "step__minutes", "counted_from")
    # Told apart here: asked for ticks that are not counted from another, SQLite would read all of the shop's.
    return round(sum({key: minutes for key, minutes, source in answered if source is None}.values()))


def keep_labour(line: LabourLine) -> LabourLine:
    """Save a line at its price, with its words in the logbook. The ticket is held and open. Raises ValidationError."""
    line.at = timezone.now()
    line.full_clean(exclude=["ticket", "by"], validate_constraints=False)
    line.save()
    log(ticket=line.ticket, by=line.by, kind="labour_added", values=_values(line))
    return line


def _values(line: LabourLine) -> dict[str, Any]:
    return {
        "words": line.words,
        "minutes": line.minutes,
        "amount": plain_money(line.price),
        "currency": line.ticket.shop.currency,
    }


def hold_open_for_labour(ticket: Ticket) -> None:
    """Hold the ticket, so that nothing is charged on it while it is handed back. Raises ValidationError after that."""
    state = Ticket.objects.select_for_update(no_key=True).values_list("state", flat=True).get(pk=ticket.pk)
    if state == Ticket.State.HANDED_BACK:
        raise ValidationError("This ticket is handed back; its charges stand.")
