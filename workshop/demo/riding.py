"""How much the demo's forks are ridden, and the services behind them, so that the due list is worth reading."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Sequence

from django.utils import timezone

from workshop.intervals.models import CounterReading, Level, Ride, ServiceDone, UnitRule, WeeklyHours
from workshop.intervals.services import levels_ticked
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import StateMove, Ticket

_CONDITIONS = (WeeklyHours.Conditions.DRY, WeeklyHours.Conditions.WET, WeeklyHours.Conditions.DUSTY)
_WITH_RIDES = 6
_WITH_COUNTER = 4


def make_riding(units: Sequence[SuspensionUnit], chance: random.Random) -> None:
    """Give units of the demo hours and services. Call it last: tickets must have their times already."""
    today = timezone.localdate()
    _services_of_tickets(units)
    serviced = set(ServiceDone.objects.filter(unit__in=units).values_list("unit_id", flat=True))
    told = set(WeeklyHours.objects.filter(unit__in=units).values_list("unit_id", flat=True))
    for unit in units:
        known_since = timezone.now() - dt.timedelta(days=chance.randint(60, 340))
        SuspensionUnit.objects.filter(pk=unit.pk).update(created_at=known_since)
        if unit.pk not in serviced and chance.random() < 0.85:
            _service_before(unit, today - dt.timedelta(days=chance.randint(15, 230)), chance)
        if unit.pk not in told and chance.random() < 0.8:
            _weekly(unit, today, chance)
    for unit in units[:_WITH_RIDES]:
        _rides(unit, today, chance)
    for unit in units[_WITH_RIDES : _WITH_RIDES + _WITH_COUNTER]:
        _counter(unit, today, chance)
    _one_own_rule(units[0])


def _services_of_tickets(units: Sequence[SuspensionUnit]) -> None:
    """Write each handed-back ticket's services down on the day it was handed back, in the demo's past."""
    ServiceDone.objects.filter(unit__in=units).delete()
    for move in StateMove.objects.filter(ticket__unit__in=units, to_state=Ticket.State.HANDED_BACK).select_related(
        "ticket", "by"
    ):
        for level, title in levels_ticked(move.ticket).items():
            ServiceDone.objects.create(
                unit_id=move.ticket.unit_id,
                ticket=move.ticket,
                level=level,
                on=timezone.localtime(move.at).date(),
                told_by=f"Checklist “{title}”",
                by=move.by,
                at=move.at,
            )


def _service_before(unit: SuspensionUnit, on: dt.date, chance: random.Random) -> None:
    levels = (Level.LOWERS, Level.SPRING, Level.FULL) if unit.kind == "fork" else (Level.SPRING, Level.FULL)
    weights = (6, 2, 1) if unit.kind == "fork" else (3, 1)
    ServiceDone.objects.create(
        unit=unit,
        level=chance.choices(levels, weights)[0],
        on=on,
        told_by="The customer (demo data)",
        at=timezone.now(),
    )


def _weekly(unit: SuspensionUnit, today: dt.date, chance: random.Random) -> None:
    WeeklyHours.objects.create(
        unit=unit,
        hours_per_week=chance.choice((0.5, 1, 1, 1.5, 1.5, 2, 2, 3)),
        conditions=chance.choices(_CONDITIONS, (6, 3, 1))[0],
        since=today - dt.timedelta(days=chance.randint(20, 300)),
        said_by_customer=chance.random() < 0.8,
        at=timezone.now(),
    )


def _rides(unit: SuspensionUnit, today: dt.date, chance: random.Random) -> None:
    """Two or three rides in most of the last twenty weeks."""
    for week in range(20):
        for ride in range(chance.choice((0, 2, 2, 3))):
            day = today - dt.timedelta(days=week * 7 + 1 + ride * 2)
            began_at = dt.datetime.combine(day, dt.time(9, chance.randint(0, 59)), tzinfo=dt.UTC)
            moving_s = chance.uniform(0.8, 3.2) * 3600
            Ride.objects.create(
                unit=unit,
                began_at=began_at,
                ended_at=began_at + dt.timedelta(seconds=moving_s * 1.2),
                moving_s=moving_s,
                digest=f"demo-{unit.pk}-{day:%Y%m%d}",
                sent_by_customer=True,
                at=timezone.now(),
            )


def _counter(unit: SuspensionUnit, today: dt.date, chance: random.Random) -> None:
    hours = float(chance.randint(120, 900))
    for days_ago in (260, 130, 4):
        on = today - dt.timedelta(days=days_ago)
        CounterReading.objects.create(unit=unit, on=on, counter_hours=round(hours, 1), at=timezone.now())
        hours += chance.uniform(8, 25)


def _one_own_rule(unit: SuspensionUnit) -> None:
    UnitRule.objects.create(
        unit=unit,
        level=Level.LOWERS,
        hours=30,
        months=4,
        source="Shop’s own rule: this one lives outdoors (demo data, invented)",
        set_at=timezone.now(),
    )
