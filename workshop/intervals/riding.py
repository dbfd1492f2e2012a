"""Writing down how much a unit is ridden: a weekly figure, rides from tracks, readings of a counter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.intervals.gpx import RideRead
from workshop.intervals.models import CounterReading, Ride, WeeklyHours
from workshop.staff.models import User
from workshop.suspension.models import ChangeOfOwner, SuspensionUnit
from workshop.web.day_words import short_day
from workshop.web.plausible_days import DayKind, refuse_day


@dataclass(frozen=True)
class RidesKept:
    """How many rides were new, and how many were there already."""

    added: int
    hours: float
    already_there: int


def last_change_of_owner(unit: SuspensionUnit) -> dt.date | None:
    """The day on which the unit came to its present owner; None where it never changed hands here."""
    return ChangeOfOwner.objects.filter(unit=unit).order_by("on").values_list("on", flat=True).last()


@transaction.atomic
def say_weekly_hours(
    *,
    unit: SuspensionUnit,
    hours_per_week: float,
    since: dt.date,
    by: User | None,
    conditions: str = WeeklyHours.Conditions.DRY,
    said_by_customer: bool = True,
) -> WeeklyHours:
    """Write down a weekly figure that holds from a day on, said by the present owner. Raises ValidationError."""
    refuse_day("since", since, DayKind.HAPPENED)
    owned_since = last_change_of_owner(unit)
    if owned_since is not None and since < owned_since:
        changed = f"It changed hands on {short_day(owned_since)}. Choose that day or a later one."
        raise ValidationError({"since": changed})
    row = WeeklyHours(
        unit=unit,
        hours_per_week=hours_per_week,
        since=since,
        conditions=conditions,
        said_by_customer=said_by_customer,
        by=by,
        at=timezone.now(),
    )
    row.full_clean(exclude=["unit", "by"])
    # Said twice for one day: the later word holds.
    WeeklyHours.objects.filter(unit=unit, since=since).delete()
    row.save()
    return row


@transaction.atomic
def read_counter(*, unit: SuspensionUnit, on: dt.date, counter_hours: float, by: User | None) -> CounterReading:
    """Write down what the rider's hour counter shows.

    Raises:
        ValidationError: the day is to come, or the counter would have run backwards.
    """
    refuse_day("on", on, DayKind.HAPPENED)
    readings = CounterReading.objects.filter(unit=unit)
    owned_since = last_change_of_owner(unit)
    if owned_since is not None and on >= owned_since:
        readings = readings.filter(on__gte=owned_since)  # another rider has another counter
    before = readings.filter(on__lt=on).last()
    after = readings.filter(on__gt=on).first()
    for other, is_wrong in (
        (before, before is not None and before.counter_hours > counter_hours),
        (after, after is not None and after.counter_hours < counter_hours),
    ):
        if other is not None and is_wrong:
            shown = f"The counter showed {other.counter_hours:g} h on {short_day(other.on)}. Read it again."
            raise ValidationError({"counter_hours": shown})
    row = CounterReading(unit=unit, on=on, counter_hours=counter_hours, by=by, at=timezone.now())
    row.full_clean(exclude=["unit", "by"], validate_constraints=False)
    CounterReading.objects.filter(unit=unit, on=on).delete()
    row.save()
    return row


@transaction.atomic
def keep_rides(
    *, unit: SuspensionUnit, rides: Iterable[RideRead], by: User | None, sent_by_customer: bool = False
) -> RidesKept:
    """Count rides once: one that is there already, or that overlaps one that is, is left out."""
    SuspensionUnit.objects.select_for_update().get(pk=unit.pk)
    spans = list(Ride.objects.filter(unit=unit).values_list("began_at", "ended_at"))
    fresh: list[Ride] = []
    known = 0
    for ride in sorted(rides, key=lambda one: one.began_at):
        if any(began <= ride.ended_at and ride.began_at <= ended for began, ended in spans):
            known += 1
            continue
        spans.append((ride.began_at, ride.ended_at))
        fresh.append(
            Ride(
                unit=unit,
                began_at=ride.began_at,
                ended_at=ride.ended_at,
                moving_s=ride.moving_s,
                digest=ride.digest,
                sent_by_customer=sent_by_customer,
                by=by,
                at=timezone.now(),
            )
        )
    Ride.objects.bulk_create(fresh)
    return RidesKept(len(fresh), sum(ride.moving_s for ride in fresh) / 3600, known)
