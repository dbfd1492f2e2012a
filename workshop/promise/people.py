"""The calendars of the mechanics: their weeks and when they are away, read and set by the owner."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from workshop.promise.calendar import Away, MechanicHours
from workshop.promise.models import DAY_FIELDS, WEEKDAYS, Absence, BenchCapacity, MechanicWeek
from workshop.staff.models import Shop, User
from workshop.staff.roles import Right, sets_with
from workshop.web.day_words import day_in_words
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

LONGEST_DAYS = 366


def people_of(capacity: BenchCapacity, today: dt.date) -> tuple[MechanicHours, ...]:
    """Who works at the bench, with hours and absences from today on; nobody where no week is on record. Two queries.

    A mechanic without a week of his own works the hours of the bench on the days it does not rest; an owner without
    one is not counted. Who left is not counted.
    """
    staff = list(bench_staff(capacity.shop_id))
    if not any(hasattr(one, "bench_week") for one in staff):
        return ()
    away = defaultdict(list)
    for row in Absence.objects.filter(mechanic__in=staff, last__gte=today):
        away[row.mechanic_id].append(Away(row.first, row.last, row.half))
    usual = [0.0 if day in capacity.closed_weekdays else float(capacity.hours_a_day) * 60 for day in range(7)]
    return tuple(
        MechanicHours(one.pk, str(one), _minutes(one.bench_week) if known else usual, tuple(away[one.pk]))
        for one in staff
        if (known := hasattr(one, "bench_week")) or one.may(Right.HAS_A_BENCH)
    )


def bench_staff(shop_pk: int) -> QuerySet[User]:
    """Who may work at the bench and has not left, by name; one query, with the week of each."""
    staff = User.objects.filter(shop=shop_pk, is_active=True, roles__in=sets_with(Right.WORK_AT_BENCH)).select_related(
        "bench_week"
    )
    return staff.order_by("first_name", "last_name", "username", "pk")


def week_of(mechanic: User) -> MechanicWeek:
    """The hours of a mechanic's week; of version 0 and without an hour where nobody entered it."""
    return MechanicWeek.objects.filter(mechanic=mechanic).first() or MechanicWeek(mechanic_id=mechanic.pk, version=0)


@transaction.atomic
def set_week(*, mechanic: User, seen_version: int, hours: Sequence[Decimal]) -> MechanicWeek:
    """Set the hours at the bench from Monday to Sunday, 0 where he is not there.

    Raises:
        StaleVersion: somebody changed the week after it was opened.
        ValidationError: hours that no day has, a weekday on which the bench rests, no hour at all, or he left.
    """
    shop = _holding(mechanic)
    week, _ = MechanicWeek.objects.get_or_create(mechanic=mechanic, defaults={"version": 0})
    take_version(week, seen_version)
    capacity, _ = BenchCapacity.objects.get_or_create(shop=shop, defaults={"version": 0})
    if not any(hours):
        raise ValidationError("Enter the hours of one day at least. Who is away for long has an absence.")
    for day, given in zip(range(7), hours, strict=True):
        if given and day in capacity.closed_weekdays:
            name = WEEKDAYS[day][1]
            raise ValidationError({DAY_FIELDS[day]: f"The bench rests on {name}. Enter 0, or let it work that day."})
        setattr(week, DAY_FIELDS[day], given)
    week.full_clean(exclude=["mechanic"])
    week.save()
    BenchCapacity.objects.filter(pk=capacity.pk).update(has_calendars=True)
    return week


@transaction.atomic
def go_back_to_usual_hours(*, mechanic: User, seen_version: int) -> None:
    """Take a mechanic's week away: he works the hours of the bench again. Raises StaleVersion."""
    week = week_of(mechanic)
    if week.pk is not None:
        take_version(week, seen_version)
        week.delete()


@transaction.atomic
def add_absence(
    *, mechanic: User, by: User, kind: str, first: dt.date, last: dt.date, half: bool = False, reason: str = ""
) -> Absence:
    """A mechanic is away from one day to another, both with it, or for half of each of these days.

    Raises:
        ValidationError: it ends before it begins, meets another absence, cannot be meant, or he left or has no week.
    """
    _holding(mechanic)
    if not MechanicWeek.objects.filter(mechanic=mechanic).exists():
        raise ValidationError(f"Enter the hours of {mechanic}’s week first: an absence is taken from them.")
    refuse_day("first", first, DayKind.EXPECTED)
    refuse_day("last", last, DayKind.EXPECTED)
    if last < first:
        raise ValidationError({"last": "It cannot end before it begins."})
    if (last - first).days >= LONGEST_DAYS:
        raise ValidationError({"last": "Enter a year at most at a time. Who left is taken off the list of staff."})
    meets = Absence.objects.filter(mechanic=mechanic, first__lte=last, last__gte=first).first()
    if meets is not None:
        span = day_in_words(meets.first) + ("" if meets.first == meets.last else f" to {day_in_words(meets.last)}")
        raise ValidationError({"first": f"{mechanic} is away already on {span}. Remove that first, or leave this out."})
    absence = Absence(
        mechanic=mechanic, by=by, kind=kind, first=first, last=last, half=half, reason=reason.strip(), at=timezone.now()
    )
    absence.full_clean(exclude=["mechanic", "by"])
    absence.save()
    return absence


def _holding(mechanic: User) -> Shop:
    """The shop of a mechanic who is still there, with his row held: of two at once the second sees the first's."""
    held = User.objects.select_for_update(of=("self",)).select_related("shop").get(pk=mechanic.pk)
    if not held.is_active:
        raise ValidationError(f"{mechanic} has left. There are no hours to count any more.")
    if held.shop is None or not held.may(Right.WORK_AT_BENCH):
        raise ValidationError(f"{mechanic} does not work at the bench.")
    return held.shop


def _minutes(week: MechanicWeek) -> tuple[float, ...]:
    return tuple(float(hours) * 60 for hours in week.hours)
