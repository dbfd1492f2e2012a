"""Units move between bikes and owners, and their history stays."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from tests import factories
from workshop.models import Fitting
from workshop.suspension.fitting import end_fitting, fit, give_to, present_fitting

pytestmark = pytest.mark.django_db
MARCH, JUNE = dt.date(2026, 3, 1), dt.date(2026, 6, 1)


def test_a_new_fitting_closes_the_earlier_one_on_that_day() -> None:
    earlier = factories.FittingFactory(since=MARCH)
    bike = factories.BikeFactory(customer=earlier.unit.customer)
    later = fit(unit=earlier.unit, bike=bike, since=JUNE, by=None)
    earlier.refresh_from_db()
    assert (earlier.until, later.since, later.until) == (JUNE, JUNE, None)
    assert present_fitting(earlier.unit) == later


def test_a_unit_goes_to_the_owner_of_its_new_bike() -> None:
    earlier = factories.FittingFactory(since=MARCH)
    bike = factories.BikeFactory(customer__shop=earlier.unit.shop)
    fit(unit=earlier.unit, bike=bike, since=JUNE, by=None)
    earlier.unit.refresh_from_db()
    assert earlier.unit.customer == bike.customer
    assert earlier.unit.version == 2


def test_a_fitting_cannot_begin_before_the_present_one() -> None:
    earlier = factories.FittingFactory(since=JUNE)
    bike = factories.BikeFactory(customer=earlier.unit.customer)
    with pytest.raises(ValidationError, match="a later one"):
        fit(unit=earlier.unit, bike=bike, since=MARCH, by=None)
    assert list(Fitting.objects.all()) == [earlier]


def test_a_unit_is_not_fitted_twice_on_one_bike() -> None:
    earlier = factories.FittingFactory(since=MARCH)
    with pytest.raises(ValidationError, match="already"):
        fit(unit=earlier.unit, bike=earlier.bike, since=JUNE, by=None)


def test_a_bike_of_another_shop_is_refused() -> None:
    with pytest.raises(ValidationError, match="this shop"):
        fit(unit=factories.SuspensionUnitFactory(), bike=factories.BikeFactory(), since=JUNE, by=None)


def test_a_unit_taken_off_is_on_no_bike() -> None:
    earlier = factories.FittingFactory(since=MARCH)
    end_fitting(unit=earlier.unit, until=JUNE)
    assert present_fitting(earlier.unit) is None
    assert end_fitting(unit=earlier.unit, until=JUNE) is None


def test_a_unit_given_away_comes_off_the_bike_that_stays() -> None:
    earlier = factories.FittingFactory(since=MARCH)
    other = factories.CustomerFactory(shop=earlier.unit.shop)
    give_to(unit=earlier.unit, customer=other, on=JUNE, by=None)
    assert earlier.unit.customer == other
    assert present_fitting(earlier.unit) is None


def test_a_unit_is_not_given_to_another_shop() -> None:
    with pytest.raises(ValidationError, match="this shop"):
        give_to(unit=factories.SuspensionUnitFactory(), customer=factories.CustomerFactory(), on=JUNE, by=None)
