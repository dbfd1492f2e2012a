import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.air_spring import (
    AirSpring,
    equalised,
    force,
    forecast_inflating,
    greatest_moved_fraction,
    pressure_to_reach_port,
    pressures_at,
    pull_to_port,
    rest_band,
    stuck,
)
from tests.physics.springs import SPRING, fractions, pressures_pa, springs


def test_the_pull_beats_the_spring_and_friction_at_the_port() -> None:
    state = stuck(SPRING, 5.5e5, 0.2)
    depth_m = rest_band(SPRING, state).mid
    assert pull_to_port(SPRING, state, depth_m) == pytest.approx(25.0 - force(SPRING, state, 0.004))


@given(springs(), pressures_pa, fractions, st.floats(0.0, 1.0))
def test_no_place_on_the_way_out_needs_more_pull(spring: AirSpring, pressure: float, part: float, at: float) -> None:
    state = stuck(spring, pressure, part)
    depth_m = rest_band(spring, state).mid
    if depth_m <= spring.port_travel_m:
        assert pull_to_port(spring, state, depth_m) == 0.0
        return
    on_the_way_m = spring.port_travel_m + at * (depth_m - spring.port_travel_m)
    needed_n = spring.friction_n - force(spring, state, min(on_the_way_m, spring.travel_m))
    assert pull_to_port(spring, state, depth_m) >= needed_n - 1e-6


def test_nothing_to_pull_at_or_above_the_port_or_if_it_comes_by_itself() -> None:
    state = stuck(SPRING, 5.5e5, 0.2)
    assert pull_to_port(SPRING, state, 0.004) == 0.0
    assert pull_to_port(SPRING, equalised(SPRING, 5.5e5), 0.002) == 0.0
    assert pull_to_port(SPRING, equalised(SPRING, 5.5e5), 0.1) == 0.0


@given(springs(), pressures_pa, fractions)
def test_the_pressure_for_the_port_balances_there_against_friction(
    spring: AirSpring, pressure: float, part: float
) -> None:
    state = stuck(spring, pressure, part)
    needed_pa = pressure_to_reach_port(spring, state, spring.port_travel_m)
    own_pa = pressures_at(spring, state, spring.port_travel_m).positive_pa
    pushed_n = force(spring, state, spring.port_travel_m) + (needed_pa - own_pa) * spring.piston_area_m2
    assert pushed_n == pytest.approx(spring.friction_n, abs=1e-6)


def test_the_need_is_the_same_from_any_depth_but_the_depth_must_exist() -> None:
    state = stuck(SPRING, 5.5e5, 0.2)
    assert pressure_to_reach_port(SPRING, state, 0.05) == pressure_to_reach_port(SPRING, state, 0.06)
    for ask in (pressure_to_reach_port, pull_to_port, forecast_inflating):
        with pytest.raises(ValueError, match=r"^rest_travel_m: "):
            ask(SPRING, state, 0.2)


def test_inflating_is_predicted_to_fail_above_the_maximum() -> None:
    assert forecast_inflating(SPRING, stuck(SPRING, 5.5e5, 0.1), 0.02).within_maximum
    beyond = forecast_inflating(SPRING, stuck(SPRING, 5.5e5, 0.3), 0.06)
    assert not beyond.within_maximum
    assert beyond.needed_pa > beyond.maximum_pa == 12e5


@given(springs(), pressures_pa)
def test_the_most_a_leak_can_move_evens_the_chambers_out_at_full_travel(spring: AirSpring, pressure: float) -> None:
    most = greatest_moved_fraction(spring)
    assert 0.0 <= most < 1.0
    at = pressures_at(spring, stuck(spring, pressure, most), spring.travel_m)
    assert at.positive_pa == pytest.approx(at.negative_pa, rel=1e-9, abs=1e-3)
