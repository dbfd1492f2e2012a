"""A fork measured and calculated with: kept, taken over, checked by a second person, taken back.

The readings are made up by the independent free body of tests/published/free_body.py, so the truth is known.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction

from specs.lookup import current_values
from specs.measured_readings import LinesRefused
from specs.physics.air_spring import AirSpring
from specs.physics.measured_fork import STANDARD_GRAVITY
from tests import factories
from tests.known import known
from tests.measured_fork import as_lines, lines, measurement_of, with_drawing
from tests.published.free_body import AMBIENT, Drawing
from tests.published.test_measured_fork import made_up
from workshop.models import ForkMeasurement, SuspensionUnit, User
from workshop.suspension.measuring import (
    CannotMeasure,
    MeasurementRefused,
    check_measurement,
    fit_of,
    fitting_diameters,
    measure_fork,
    take_measurement_back,
    take_over,
)
from workshop.work.spring import spring_of

WRONG = 150e-6  # m³: what the model's own values say of the positive chamber; the truth is 205 ml


@pytest.fixture
def unit(db: None) -> SuspensionUnit:
    unit = factories.SuspensionUnitFactory(travel_m=0.160)
    with_drawing(unit, positive_volume=WRONG)
    return unit


@pytest.fixture
def mechanic(unit: SuspensionUnit) -> User:
    return factories.UserFactory(shop=unit.shop, mechanic=True)


def measured(unit: SuspensionUnit, by: User, *, text: str = "", made_up: bool = False) -> ForkMeasurement:
    values = current_values(known(unit.model), 160)
    return measure_fork(
        unit=unit, means="scales", made_up=made_up, text=text or lines(), ambient_pa=AMBIENT, values=values, by=by
    )


def spring_now(unit: SuspensionUnit) -> AirSpring:
    spring = spring_of(SuspensionUnit.objects.select_related("model").get(pk=unit.pk))
    assert isinstance(spring, AirSpring)
    return spring


def test_a_unit_that_was_not_measured_keeps_its_models_geometry(unit: SuspensionUnit, mechanic: User) -> None:
    assert spring_now(unit).positive_volume_m3 == WRONG
    measured(unit, mechanic)
    assert spring_now(unit).positive_volume_m3 == WRONG


def test_the_fit_becomes_the_geometry_of_this_unit_alone_and_goes_again(unit: SuspensionUnit, mechanic: User) -> None:
    sister = factories.SuspensionUnitFactory(shop=unit.shop, model=unit.model, travel_m=0.160)
    measurement = measured(unit, mechanic)
    take_over(measurement=measurement, by=mechanic)
    spring = spring_now(unit)
    assert spring.positive_volume_m3 == pytest.approx(Drawing().positive_volume_m3, rel=0.02)
    assert spring.port_travel_m == pytest.approx(Drawing().port_travel_m, abs=0.001)
    assert spring.friction_n == pytest.approx(Drawing().friction_n, abs=1.0)
    assert spring_now(sister).positive_volume_m3 == WRONG
    measurement.refresh_from_db()
    assert measurement.taken_over_by == mechanic
    take_measurement_back(measurement=measurement, by=mechanic)
    assert spring_now(unit).positive_volume_m3 == WRONG


def test_a_second_person_checks_and_nobody_else(unit: SuspensionUnit, mechanic: User) -> None:
    measurement = measured(unit, mechanic)
    second, owner = (factories.UserFactory(shop=unit.shop, mechanic=True) for _ in range(2))
    with pytest.raises(MeasurementRefused, match="checked already, or it is not in force"):
        check_measurement(measurement=measurement, by=second)
    take_over(measurement=measurement, by=owner)
    measurement.refresh_from_db()
    for first in (mechanic, owner):
        with pytest.raises(MeasurementRefused, match="A second person looks at it"):
            check_measurement(measurement=measurement, by=first)
    check_measurement(measurement=measurement, by=second)
    measurement.refresh_from_db()
    assert measurement.checked_by == second
    with pytest.raises(MeasurementRefused, match="checked already"):
        check_measurement(measurement=measurement, by=factories.UserFactory(shop=unit.shop))


def test_made_up_readings_are_never_taken_over(unit: SuspensionUnit, mechanic: User) -> None:
    measurement = measured(unit, mechanic, made_up=True)
    with pytest.raises(MeasurementRefused, match="made up"):
        take_over(measurement=measurement, by=mechanic)
    with pytest.raises(IntegrityError), transaction.atomic():
        ForkMeasurement.objects.filter(pk=measurement.pk).update(taken_over_at=measurement.entered_at)


def test_one_measurement_is_in_force_at_a_time(unit: SuspensionUnit, mechanic: User) -> None:
    first, second = measured(unit, mechanic), measured(unit, mechanic, text=lines(1.0, 2))
    take_over(measurement=first, by=mechanic)
    with pytest.raises(MeasurementRefused, match="Another measurement"):
        take_over(measurement=second, by=mechanic)
    take_measurement_back(measurement=first, by=mechanic)
    take_over(measurement=second, by=mechanic)
    with pytest.raises(MeasurementRefused, match="taken over before"):
        take_over(measurement=first, by=mechanic)
    with pytest.raises(MeasurementRefused, match="nothing to take back"):
        take_measurement_back(measurement=first, by=mechanic)


def test_what_is_poorly_determined_is_held_at_the_models_and_not_taken(unit: SuspensionUnit, mechanic: User) -> None:
    deep = as_lines([one for one in made_up(3.0, 1) if one.travel_m > 0.05])
    measurement = measured(unit, mechanic, text=deep)
    fit = fit_of(measurement)
    assert fit["port_travel_m"].held
    take_over(measurement=measurement, by=mechanic)
    unit.refresh_from_db()
    assert "port_travel" not in unit.measured_geometry
    assert spring_now(unit).port_travel_m == Drawing().port_travel_m


def test_a_fit_is_kept_as_it_came_out(unit: SuspensionUnit, mechanic: User) -> None:
    fit = fit_of(measured(unit, mechanic))
    assert [one.name for one in fit.fitted] == [
        "positive_volume_m3", "negative_volume_m3", "lower_leg_volume_m3", "port_travel_m", "friction_n",
    ]  # fmt: skip
    assert fit["positive_volume_m3"].band.contains(Drawing().positive_volume_m3)
    assert len(fit.residuals_n) == 66


def test_a_line_in_kilograms_is_named_by_its_line(unit: SuspensionUnit, mechanic: User) -> None:
    readings = made_up(1.0, 1)
    readings[20] = replace(readings[20], force_n=readings[20].force_n / STANDARD_GRAVITY)
    with pytest.raises(LinesRefused) as refused:
        measured(unit, mechanic, text=as_lines(readings))
    assert list(refused.value.errors) == [22]  # the header is line 1
    assert "kg typed as newtons" in refused.value.errors[22]
    assert not ForkMeasurement.objects.exists()


def test_too_few_readings_are_told(unit: SuspensionUnit, mechanic: User) -> None:
    with pytest.raises(LinesRefused, match="3 are too few: take 8 or more"):
        measured(unit, mechanic, text=as_lines(made_up(0.0, 1)[:3]))


def test_the_order_of_the_lines_changes_nothing(unit: SuspensionUnit, mechanic: User) -> None:
    there = fit_of(measured(unit, mechanic, text=as_lines(made_up(1.0, 1))))
    back = fit_of(measured(unit, mechanic, text=as_lines(made_up(1.0, 1)[::-1])))
    for one, other in zip(there.fitted, back.fitted, strict=True):
        assert one.band.mid == pytest.approx(other.band.mid, rel=1e-5)


def test_what_cannot_be_measured_says_why(unit: SuspensionUnit) -> None:
    values = current_values(known(unit.model), 160)
    assert fitting_diameters(unit, values).travel_m == 0.160
    with pytest.raises(CannotMeasure, match="piston bore"):
        fitting_diameters(unit, {key: value for key, value in values.items() if key != "piston_bore"})
    unit.travel_m = None
    with pytest.raises(CannotMeasure, match="travel of this fork"):
        fitting_diameters(unit, values)
    unit.travel_m, unit.kind = 0.160, "shock"
    with pytest.raises(CannotMeasure, match="Only the air spring of a fork"):
        fitting_diameters(unit, values)


def test_the_database_holds_who_checked(unit: SuspensionUnit, mechanic: User) -> None:
    row = measurement_of(unit, mechanic)
    for bad in ({"checked_by": mechanic}, {"checked_at": row.entered_at}, {"taken_back_at": row.entered_at}):
        with pytest.raises(IntegrityError), transaction.atomic():
            ForkMeasurement.objects.filter(pk=row.pk).update(**bad)
