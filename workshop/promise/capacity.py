"""The bench's hours: read, and set by the owner."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.promise.calendar import works_at_all
from workshop.promise.closed import closed_days
from workshop.promise.days import Bench
from workshop.promise.models import BenchCapacity
from workshop.promise.people import people_of
from workshop.staff.models import Shop
from workshop.web.versions import take_version


def capacity_of(shop: Shop) -> BenchCapacity:
    """What the owner set; one mechanic for six hours where nothing was."""
    return BenchCapacity.objects.filter(shop=shop).first() or BenchCapacity(shop=shop, version=0)


def bench_of(capacity: BenchCapacity, today: dt.date) -> Bench:
    """The bench as the arithmetic of days takes it; one query, and two more where mechanics have calendars."""
    closed_weekdays = frozenset(capacity.closed_weekdays)
    people = people_of(capacity, today) if capacity.has_calendars else ()
    return Bench(
        mechanics=capacity.mechanics,
        minutes_each=float(capacity.hours_a_day) * 60,
        closed_weekdays=closed_weekdays,
        closed_days=closed_days(capacity, today),
        people=people if works_at_all(people, closed_weekdays) else (),
    )


@transaction.atomic
def set_capacity(
    *,
    shop: Shop,
    seen_version: int,
    mechanics: int,
    hours_a_day: Decimal,
    closed_weekdays: Iterable[int],
    usual_minutes: int,
    unknown_lead_days: int,
) -> BenchCapacity:
    """Set the hours of the bench. Raises StaleVersion, or ValidationError for hours or days that cannot be."""
    capacity, _ = BenchCapacity.objects.get_or_create(shop=shop, defaults={"version": 0})
    take_version(capacity, seen_version)
    weekdays = sorted(set(closed_weekdays))
    if len(weekdays) > 6:
        raise ValidationError({"closed_weekdays": "Leave at least one day open."})
    if not set(weekdays) <= set(range(7)):
        raise ValidationError({"closed_weekdays": "There is no such day of the week."})
    capacity.mechanics, capacity.hours_a_day, capacity.closed_weekdays = mechanics, hours_a_day, weekdays
    capacity.usual_minutes, capacity.unknown_lead_days = usual_minutes, unknown_lead_days
    capacity.full_clean(exclude=["shop", "closed_weekdays"])
    capacity.save()
    return capacity
