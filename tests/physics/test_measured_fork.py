from __future__ import annotations

import pytest

from specs.physics.errors import ImpossibleValue
from specs.physics.measured_fork import ForceReading, fit_fork
from tests.published.free_body import AMBIENT
from tests.published.test_measured_fork import DRAWING, TRUE, made_up


def test_readings_of_one_way_say_nothing_of_friction() -> None:
    one_way = [reading for reading in made_up(1.0, 1) if reading.direction == "in"]
    fit = fit_fork(one_way, DRAWING, ambient_pa=AMBIENT)
    assert fit["friction_n"].is_poor
    assert not fit["friction_n"].may_be_taken


def test_what_the_readings_say_too_little_of_is_held_and_never_taken() -> None:
    """Only deep readings: where the port is they do not show."""
    deep = [reading for reading in made_up(3.0, 1) if reading.travel_m > 0.05]
    alone = fit_fork(deep, DRAWING, ambient_pa=AMBIENT)
    assert alone["port_travel_m"].is_poor
    fit = fit_fork(deep, DRAWING, ambient_pa=AMBIENT, known=TRUE)
    assert fit["port_travel_m"].held
    assert not fit["port_travel_m"].may_be_taken
    assert fit["port_travel_m"].band.mid == TRUE["port_travel_m"]
    assert fit["positive_volume_m3"].may_be_taken


def test_too_few_readings_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match=r"^readings: 7 are too few: take 8 or more"):
        fit_fork(made_up(0.0, 1)[:7], DRAWING)
    with pytest.raises(ImpossibleValue, match=r"^readings: take them at 4 travels"):
        fit_fork([ForceReading(5e5, 0.05, 300.0 + n, "in") for n in range(10)], DRAWING)


def test_a_depth_beyond_the_travel_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match=r"^travel_m"):
        fit_fork([*made_up(0.0, 1), ForceReading(5e5, 0.17, 900.0, "in")], DRAWING)


def test_residuals_come_in_the_order_of_the_readings() -> None:
    readings = made_up(0.0, 1)
    wrong = readings[10]
    readings[10] = ForceReading(wrong.pressure_pa, wrong.travel_m, wrong.force_n + 60.0, wrong.direction)
    fit = fit_fork(readings, DRAWING, ambient_pa=AMBIENT)
    assert max(range(len(readings)), key=lambda at: abs(fit.residuals_n[at])) == 10
    assert fit.residuals_n[10] > 0
