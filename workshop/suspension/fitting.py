"""Which bike a unit is fitted on, since when, and whose it is. Earlier fittings are closed, never erased."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F

from workshop.customers.merged import who_stands
from workshop.customers.models import Bike, Customer
from workshop.staff.models import User
from workshop.suspension.models import ChangeOfOwner, Fitting, SuspensionUnit
from workshop.web.day_words import short_day
from workshop.web.plausible_days import DayKind, refuse_day


def present_fitting(unit: SuspensionUnit) -> Fitting | None:
    """The fitting that has not ended, with its bike."""
    return unit.fittings.filter(until__isnull=True).select_related("bike__customer").first()


@transaction.atomic
def fit(*, unit: SuspensionUnit, bike: Bike, since: dt.date, by: User | None) -> Fitting:
    """Fit a unit on a bike, closing the earlier fitting on that day. The unit goes to the bike's owner.

    Raises:
        ValidationError: the bike is another shop's, the unit is on it already, or the day is before
            the present fitting began, or cannot be meant.
    """
    refuse_day("since", since, DayKind.HAPPENED)
    _lock(unit)
    if bike.customer.shop_id != unit.shop_id:
        raise ValidationError({"bike": "Choose a bike of this shop’s customers."})
    earlier = present_fitting(unit)
    if earlier is not None and earlier.bike_id == bike.pk:
        raise ValidationError({"bike": f"It is on “{bike}” already, since {short_day(earlier.since)}."})
    if earlier is not None:
        _close(earlier, since)
    if unit.customer_id != bike.customer_id:
        _pass_on(unit, bike.customer, since, by)
    fitting = Fitting(unit=unit, bike=bike, since=since, recorded_by=by)
    fitting.full_clean(exclude=["unit", "bike", "recorded_by"])
    fitting.save()
    return fitting


@transaction.atomic
def end_fitting(*, unit: SuspensionUnit, until: dt.date) -> Fitting | None:
    """End the present fitting, if there is one. Raises ValidationError for a day before it began."""
    refuse_day("since", until, DayKind.HAPPENED)
    _lock(unit)
    earlier = present_fitting(unit)
    return None if earlier is None else _close(earlier, until)


@transaction.atomic
def give_to(
    *, unit: SuspensionUnit, customer: Customer, on: dt.date, by: User | None, never_theirs: bool = False
) -> SuspensionUnit:
    """Pass a unit to another customer; it comes off a bike that stays with the earlier owner.

    Args:
        never_theirs: it was entered under the wrong customer, so nothing that was told of its riding ends.

    Raises:
        ValidationError: the customer is another shop's, or the day is before the present fitting began.
    """
    refuse_day("since", on, DayKind.HAPPENED)
    customer = who_stands(customer)
    _lock(unit)
    if customer.shop_id != unit.shop_id:
        raise ValidationError({"customer": "Choose a customer of this shop."})
    earlier = present_fitting(unit)
    if earlier is not None and earlier.bike.customer_id != customer.pk:
        _close(earlier, on)
    if unit.customer_id != customer.pk:
        _pass_on(unit, customer, on, by, never_theirs=never_theirs)
    return unit


def _lock(unit: SuspensionUnit) -> None:
    """Hold the unit until the transaction ends, so that two fittings at once wait for each other."""
    SuspensionUnit.objects.select_for_update().get(pk=unit.pk)


def _pass_on(
    unit: SuspensionUnit, customer: Customer, on: dt.date, by: User | None, *, never_theirs: bool = False
) -> None:
    if not never_theirs:
        ChangeOfOwner.objects.create(unit=unit, on=on, recorded_by=by)
    unit.customer = customer
    SuspensionUnit.objects.filter(pk=unit.pk).update(customer=customer, version=F("version") + 1)
    unit.refresh_from_db(fields=["version"])


def _close(fitting: Fitting, until: dt.date) -> Fitting:
    if until < fitting.since:
        raise ValidationError(
            {"since": f"It was put on “{fitting.bike}” on {short_day(fitting.since)}; choose that day or a later one."}
        )
    fitting.until = until
    fitting.save(update_fields=["until"])
    return fitting
