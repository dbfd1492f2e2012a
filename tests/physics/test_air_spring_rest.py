import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.air_spring import (
    AirSpring,
    axle_load_along_fork,
    equalised,
    force,
    healthy_band,
    rest_band,
    stuck,
    travel_at_force,
)
from specs.physics.air_spring.rest import _isothermal_root, where_push_is
from tests.physics.springs import SPRING, ambients_pa, changed, exponents, fractions, pressures_pa, springs

loads_n = st.floats(-200.0, 1500.0)


def test_a_loaded_fork_rests_where_spring_and_load_balance_within_friction() -> None:
    state = equalised(SPRING, 5e5)
    rest = rest_band(SPRING, state, 600.0)
    assert force(SPRING, state, rest.mid) == pytest.approx(600.0)
    assert force(SPRING, state, rest.low) == pytest.approx(575.0)
    assert force(SPRING, state, rest.high) == pytest.approx(625.0)


def test_a_healthy_fork_rests_near_its_port_and_a_stuck_one_deep() -> None:
    healthy = rest_band(SPRING, equalised(SPRING, 5.5e5))
    assert healthy.high < SPRING.port_travel_m
    assert rest_band(SPRING, stuck(SPRING, 5.5e5, 0.3)).low > 0.05


def test_the_end_stops_cut_the_band_off() -> None:
    assert rest_band(SPRING, equalised(SPRING, 5.5e5), -500.0).high == 0.0
    bottomed = rest_band(SPRING, equalised(SPRING, 1e5), 1e5)
    assert bottomed.low == bottomed.high == SPRING.travel_m
    assert rest_band(SPRING, equalised(SPRING, 5.5e5)).low == 0.0


def test_without_friction_the_band_is_a_point() -> None:
    spring = changed(friction_n=0.0)
    rest = rest_band(spring, equalised(spring, 5e5), 500.0)
    assert rest.low == rest.mid == rest.high


@given(springs(), pressures_pa, fractions, ambients_pa, loads_n, exponents)
def test_the_band_is_ordered_and_inside_the_stroke(
    spring: AirSpring, pressure: float, part: float, ambient: float, load: float, n: float
) -> None:
    state = stuck(spring, pressure, part, ambient_pa=ambient, exponent=n)
    rest = rest_band(spring, state, load)
    assert 0.0 <= rest.low <= rest.mid + 1e-9 <= rest.high + 2e-9 <= spring.travel_m + 3e-9


@given(springs(), pressures_pa, fractions, ambients_pa, loads_n)
def test_closed_form_and_search_agree(
    spring: AirSpring, pressure: float, part: float, ambient: float, load: float
) -> None:
    state = stuck(spring, pressure, part, ambient_pa=ambient)
    if not force(spring, state, 0.0) < load < force(spring, state, spring.travel_m):
        return
    closed = _isothermal_root(spring, state, load)
    if closed is not None:
        searched = where_push_is(lambda at_m: force(spring, state, at_m), load, spring.travel_m)
        assert closed == pytest.approx(searched, abs=1e-9)


@given(springs(), pressures_pa, fractions, st.floats(0.001, 0.999), exponents)
def test_force_and_travel_are_each_others_inverse(
    spring: AirSpring, pressure: float, part: float, where: float, n: float
) -> None:
    state = stuck(spring, pressure, part, exponent=n)
    travel_m = where * spring.travel_m
    assert travel_at_force(spring, state, force(spring, state, travel_m)) == pytest.approx(travel_m, abs=1e-9)


@pytest.mark.parametrize("off_n", [0.0, 1e-13, 1e-9, -1e-6, 1e-3])
def test_where_the_cubic_degenerates_the_search_takes_over(off_n: float) -> None:
    """A pull that just cancels the push of ambient leaves the cubic without its leading term."""
    state = equalised(SPRING, 5e5)
    pull_n = -101325.0 * (SPRING.shaft_area_m2 + SPRING.lower_leg_area_m2) + off_n
    deep = stuck(SPRING, 5e5, 0.3)
    assert rest_band(SPRING, state, pull_n).mid == 0.0
    travel_m = travel_at_force(SPRING, deep, pull_n)
    assert force(SPRING, deep, travel_m) == pytest.approx(pull_n, abs=1e-6)


def test_the_healthy_band_is_the_rest_band_with_the_rule_on_either_side() -> None:
    rest = rest_band(SPRING, equalised(SPRING, 5.5e5))
    healthy = healthy_band(SPRING, 5.5e5)
    assert (healthy.low, healthy.mid) == (0.0, rest.mid)
    assert healthy.high == pytest.approx(rest.high + 0.001)
    with pytest.raises(ValueError, match=r"^reading_m: "):
        healthy_band(SPRING, 5.5e5, reading_m=-0.001)


def test_only_part_of_an_upright_load_acts_along_the_fork() -> None:
    assert axle_load_along_fork(600.0, 65.0) == pytest.approx(600.0 * math.sin(math.radians(65.0)))
    with pytest.raises(ValueError, match=r"^head_angle_deg: "):
        axle_load_along_fork(600.0, 6.5)


@pytest.mark.parametrize("load_n", [math.nan, math.inf])
def test_a_load_is_a_number(load_n: float) -> None:
    with pytest.raises(ValueError, match=r"^load_n: "):
        rest_band(SPRING, equalised(SPRING, 5e5), load_n)
