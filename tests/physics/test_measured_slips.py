from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.errors import ImpossibleValue
from specs.physics.measured_fork import STANDARD_GRAVITY, ForceReading, fit_fork
from specs.physics.measured_slips import WHOLE, slips
from tests.published.free_body import AMBIENT
from tests.published.test_measured_fork import DRAWING, made_up


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("noise_n", [0.0, 2.0, 5.0])
def test_readings_that_only_scatter_are_not_accused(seed: int, noise_n: float) -> None:
    assert slips(made_up(noise_n, seed), DRAWING, ambient_pa=AMBIENT) == {}


@pytest.mark.parametrize("place", [5, 20, 44, 65])
def test_one_force_in_kilograms_is_named_with_its_slip(place: int) -> None:
    readings = made_up(2.0, 4)
    readings[place] = replace(readings[place], force_n=readings[place].force_n / STANDARD_GRAVITY)
    found = slips(readings, DRAWING, ambient_pa=AMBIENT)
    assert list(found) == [place]
    assert "kg typed as newtons" in found[place]


def test_all_forces_in_kilograms_are_told_as_one() -> None:
    readings = [replace(one, force_n=one.force_n / STANDARD_GRAVITY) for one in made_up(2.0, 4)]
    found = slips(readings, DRAWING, ambient_pa=AMBIENT)
    assert list(found) == [WHOLE]
    assert "was kg meant for N?" in found[WHOLE]


def test_all_directions_swapped_are_told_as_one() -> None:
    readings = [replace(one, direction="out" if one.direction == "in" else "in") for one in made_up(1.0, 4)]
    assert "look swapped" in slips(readings, DRAWING, ambient_pa=AMBIENT)[WHOLE]


def test_a_lost_decimal_point_and_a_force_of_nowhere() -> None:
    readings = made_up(2.0, 4)
    readings[30] = replace(readings[30], force_n=readings[30].force_n * 10)
    readings[40] = replace(readings[40], force_n=readings[40].force_n + 90)
    found = slips(readings, DRAWING, ambient_pa=AMBIENT)
    assert sorted(found) == [30, 40]
    assert "decimal point" in found[30]
    assert "Read it again" in found[40]


def test_readings_of_no_spring_contradict_each_other() -> None:
    readings = [replace(one, force_n=100.0 + 700.0 * (number % 3)) for number, one in enumerate(made_up(0.0, 1))]
    assert "contradict each other" in slips(readings, DRAWING, ambient_pa=AMBIENT)[WHOLE]


def reading() -> st.SearchStrategy[ForceReading]:
    kelvin = st.floats(243.15, 333.15)
    return st.builds(
        ForceReading, st.floats(0.0, 2.8e6), st.floats(0.0, 0.160), st.floats(-2e3, 2e4),
        st.sampled_from(["in", "out"]), kelvin, kelvin,
    )  # fmt: skip


@given(st.lists(reading(), min_size=1, max_size=20), st.floats(0.010, 0.070))
def test_whatever_is_typed_it_is_fitted_or_refused_in_words(readings: list[ForceReading], bore_m: float) -> None:
    drawing = replace(DRAWING, piston_bore_m=bore_m, stanchion_m=bore_m + 0.003)
    wrong = {"positive_volume_m3": 1e-6, "friction_n": 8.0, "port_travel_m": 0.0075, "lower_leg_volume_m3": 5.0}
    try:
        found = slips(readings, drawing, ambient_pa=AMBIENT)
        fit = fit_fork(readings, drawing, ambient_pa=AMBIENT, known=wrong)
    except ImpossibleValue:
        return
    assert all(said.endswith((".", "?")) for said in found.values())
    assert all(math.isfinite(one.band.mid) for one in fit.fitted)
    assert all(not one.may_be_taken or math.isfinite(one.band.high) for one in fit.fitted)
