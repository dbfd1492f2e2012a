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
    pull_after_filling,
    pull_at_pressure,
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
    within = forecast_inflating(SPRING, stuck(SPRING, 5.5e5, 0.1), 0.02)
    assert within.needed_pa <= within.maximum_pa == 12e5
    beyond = forecast_inflating(SPRING, stuck(SPRING, 5.5e5, 0.3), 0.06)
    assert beyond.needed_pa > beyond.maximum_pa == 12e5


@given(springs(), pressures_pa)
def test_the_most_a_leak_can_move_evens_the_chambers_out_at_full_travel(spring: AirSpring, pressure: float) -> None:
    most = greatest_moved_fraction(spring)
    assert 0.0 <= most < 1.0
    at = pressures_at(spring, stuck(spring, pressure, most), spring.travel_m)
    assert at.positive_pa == pytest.approx(at.negative_pa, rel=1e-9, abs=1e-3)


@given(springs(), pressures_pa, fractions, st.floats(-200.0, 400.0))
def test_pull_and_pressure_meet_where_each_alone_is_enough(
    spring: AirSpring, pressure: float, part: float, hanging_n: float
) -> None:
    """At the pressure that needs no pull the pull is nothing; at the chamber's own it is that of pulling alone."""
    state = stuck(spring, pressure, part)
    needed_pa = pressure_to_reach_port(spring, state, spring.port_travel_m)
    assert pull_at_pressure(spring, state, needed_pa).high == pytest.approx(0.0, abs=1e-6)
    own_pa = pressures_at(spring, state, spring.port_travel_m).positive_pa
    alone = pull_at_pressure(spring, state, own_pa, hanging_n=hanging_n)
    assert alone.mid == pytest.approx(-force(spring, state, spring.port_travel_m) - hanging_n, abs=1e-6)
    assert alone.high - alone.mid == pytest.approx(spring.friction_n, abs=1e-6)
    assert alone.mid - alone.low == pytest.approx(spring.friction_n, abs=1e-6)


@given(springs(), pressures_pa, fractions, pressures_pa, st.floats(1e3, 5e5))
def test_more_pressure_and_more_weight_leave_less_to_pull(
    spring: AirSpring, pressure: float, part: float, held: float, more_pa: float
) -> None:
    state = stuck(spring, pressure, part)
    assert pull_at_pressure(spring, state, held + more_pa).mid < pull_at_pressure(spring, state, held).mid
    hung = pull_at_pressure(spring, state, held, hanging_n=30.0)
    assert hung.mid == pytest.approx(pull_at_pressure(spring, state, held).mid - 30.0, abs=1e-6)


@given(springs(), pressures_pa, fractions, pressures_pa, st.floats(0.0, 1.0))
def test_a_filling_closed_in_leaves_more_to_pull_than_one_kept_up(
    spring: AirSpring, pressure: float, part: float, fill: float, at: float
) -> None:
    state = stuck(spring, pressure, part)
    from_m = spring.travel_m * at
    once = pull_after_filling(spring, state, from_m, fill)
    if from_m <= spring.port_travel_m:
        assert (once.low, once.mid, once.high) == (0.0, 0.0, 0.0)
        return
    assert once.mid >= pull_at_pressure(spring, state, fill).mid - 1e-6
    own_pa = pressures_at(spring, state, from_m).positive_pa  # filled to what it holds: nothing has changed
    same = pull_after_filling(spring, state, from_m, own_pa)
    assert same.mid == pytest.approx(-force(spring, state, spring.port_travel_m), abs=1e-5)


@pytest.mark.parametrize("wrong", [float("nan"), float("inf"), -101325.0, -2e5])
def test_impossible_pressures_name_their_field(wrong: float) -> None:
    state = stuck(SPRING, 5.5e5, 0.2)
    with pytest.raises(ValueError, match=r"^positive_pa: "):
        pull_at_pressure(SPRING, state, wrong)
    with pytest.raises(ValueError, match=r"^fill_pa: "):
        pull_after_filling(SPRING, state, 0.05, wrong)


@pytest.mark.parametrize("wrong", [float("nan"), float("inf"), float("-inf")])
def test_impossible_weights_and_depths_name_their_field(wrong: float) -> None:
    state = stuck(SPRING, 5.5e5, 0.2)
    with pytest.raises(ValueError, match=r"^hanging_n: "):
        pull_at_pressure(SPRING, state, 8e5, hanging_n=wrong)
    with pytest.raises(ValueError, match=r"^hanging_n: "):
        pull_after_filling(SPRING, state, 0.05, 8e5, hanging_n=wrong)
    for depth_m in (wrong, -0.001, 0.1601):
        with pytest.raises(ValueError, match=r"^from_travel_m: "):
            pull_after_filling(SPRING, state, depth_m, 8e5)
