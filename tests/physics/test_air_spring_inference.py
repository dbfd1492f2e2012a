import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from specs.physics.air_spring import (
    AirSpring,
    ContradictoryReading,
    equalised,
    force,
    infer_from_earlier_pressure,
    infer_from_reading,
    pressures_at,
    rest_band,
    stuck,
)
from tests.physics.springs import SPRING, ambients_pa, changed, fractions, pressures_pa, rests_inside, springs


def test_the_earlier_pressure_and_the_depth_tell_what_has_moved() -> None:
    state = stuck(SPRING, 5.5e5, 0.3)
    depth_m = rest_band(SPRING, state).mid
    found = infer_from_earlier_pressure(SPRING, 5.5e5, depth_m)
    at = pressures_at(SPRING, state, depth_m)
    assert found.moved_fraction.mid == pytest.approx(0.3)
    assert found.negative_pa.mid == pytest.approx(at.negative_pa)
    assert found.positive_pa.mid == pytest.approx(at.positive_pa)
    assert found.equalised_pa.low == found.equalised_pa.high == 5.5e5


def test_a_reading_and_the_depth_tell_it_too() -> None:
    state = stuck(SPRING, 5.5e5, 0.3)
    depth_m = rest_band(SPRING, state).mid
    at = pressures_at(SPRING, state, depth_m)
    found = infer_from_reading(SPRING, at.positive_pa, depth_m)
    assert found.moved_fraction.mid == pytest.approx(0.3)
    assert found.negative_pa.mid == pytest.approx(at.negative_pa)
    assert found.equalised_pa.mid == pytest.approx(5.5e5)
    assert found.positive_pa.low == found.positive_pa.high == at.positive_pa


@given(springs(), pressures_pa, fractions, ambients_pa)
def test_both_find_any_fraction_again(spring: AirSpring, pressure: float, part: float, ambient: float) -> None:
    assume(rests_inside(spring, pressure, part, ambient))
    state = stuck(spring, pressure, part, ambient_pa=ambient)
    depth_m = rest_band(spring, state).mid
    at = pressures_at(spring, state, depth_m)
    earlier = infer_from_earlier_pressure(spring, pressure, depth_m, ambient_pa=ambient)
    reading = infer_from_reading(spring, at.positive_pa, depth_m, ambient_pa=ambient)
    for found in (earlier, reading):
        assert found.moved_fraction.mid == pytest.approx(part, abs=1e-9)
        assert found.negative_pa.mid == pytest.approx(at.negative_pa, rel=1e-6, abs=1.0)
        assert found.positive_pa.mid == pytest.approx(at.positive_pa, rel=1e-6, abs=1.0)
        assert found.equalised_pa.mid == pytest.approx(pressure, rel=1e-6)


@given(springs(), pressures_pa, fractions, st.floats(-1.0, 1.0))
def test_wherever_friction_holds_the_fork_the_band_holds_the_truth(
    spring: AirSpring, pressure: float, part: float, held: float
) -> None:
    state = stuck(spring, pressure, part)
    rest = rest_band(spring, state)
    depth_m = (rest.low + rest.high) / 2 + held * (rest.high - rest.low) / 2
    depth_m = min(max(depth_m, 0.0), spring.travel_m)
    earlier = infer_from_earlier_pressure(spring, pressure, depth_m)
    assert earlier.moved_fraction.low - 1e-9 <= part <= earlier.moved_fraction.high + 1e-9
    if depth_m < spring.travel_m:  # at full travel a reading only gives a floor
        at = pressures_at(spring, state, depth_m)
        reading = infer_from_reading(spring, at.positive_pa, depth_m)
        assert reading.moved_fraction.low - 1e-9 <= part <= reading.moved_fraction.high + 1e-9
        assert reading.equalised_pa.low * (1 - 1e-9) - 1 <= pressure <= reading.equalised_pa.high * (1 + 1e-9) + 1


@given(springs(), pressures_pa, fractions)
def test_every_band_is_ordered(spring: AirSpring, pressure: float, part: float) -> None:
    depth_m = rest_band(spring, stuck(spring, pressure, part)).mid
    reading_pa = pressures_at(spring, stuck(spring, pressure, part), depth_m).positive_pa
    for found in (
        infer_from_earlier_pressure(spring, pressure, depth_m),
        infer_from_reading(spring, reading_pa, depth_m),
    ):
        for band in (found.moved_fraction, found.negative_pa, found.positive_pa, found.equalised_pa):
            assert band.low <= band.mid <= band.high


def test_friction_widens_the_band_by_force_over_area() -> None:
    depth_m = rest_band(SPRING, stuck(SPRING, 5.5e5, 0.3)).mid
    reading_pa = pressures_at(SPRING, stuck(SPRING, 5.5e5, 0.3), depth_m).positive_pa
    negative = infer_from_reading(SPRING, reading_pa, depth_m).negative_pa
    assert negative.high - negative.low == pytest.approx(2 * 25.0 / SPRING.negative_area_m2)


def test_legs_closed_elsewhere_can_be_said() -> None:
    state = stuck(SPRING, 5.5e5, 0.2, lower_leg_pa=80_000.0)
    depth_m = rest_band(SPRING, state).mid
    found = infer_from_earlier_pressure(SPRING, 5.5e5, depth_m, lower_leg_pa=80_000.0)
    assert found.moved_fraction.mid == pytest.approx(0.2)
    assert infer_from_earlier_pressure(SPRING, 5.5e5, depth_m).moved_fraction.mid != pytest.approx(0.2, abs=0.005)


def test_a_fork_fully_out_against_its_stop_is_not_called_stuck() -> None:
    """A large negative chamber tops out with force to spare: the depth says nothing beyond 'not enough to sink it'."""
    spring = changed(port_travel_m=0.0, friction_n=5.0)
    healthy = equalised(spring, 8e5)
    assert force(spring, healthy, 0.0) > spring.friction_n
    for found in (
        infer_from_earlier_pressure(spring, 8e5, 0.0),
        infer_from_reading(spring, 8e5, 0.0),
    ):
        assert found.moved_fraction.low == found.moved_fraction.mid == 0.0
        assert 0.0 < found.moved_fraction.high < 0.1
        assert found.equalised_pa.mid == pytest.approx(8e5)


def test_shallower_than_equalised_is_a_contradiction() -> None:
    spring = changed(port_travel_m=0.02, friction_n=5.0)
    for infer in (infer_from_earlier_pressure, infer_from_reading):
        with pytest.raises(ContradictoryReading, match=r"^rest_travel_m: the fork rests shallower") as caught:
            infer(spring, 5.5e5, 0.004)
        assert caught.value.likely_slip.endswith(".")


def test_deeper_than_all_the_gas_could_hold_it_is_a_contradiction() -> None:
    """0.55 bar typed for 5.5: air in small lower legs would push the fork out of so deep a rest."""
    spring = changed(lower_leg_volume_m3=300e-6)
    with pytest.raises(ContradictoryReading, match="deeper than that pressure allows") as caught:
        infer_from_earlier_pressure(spring, 0.55e5, 0.155)
    assert "unit" in caught.value.likely_slip


def test_half_a_millimetre_is_no_contradiction() -> None:
    spring = changed(friction_n=0.0)
    depth_m = rest_band(spring, equalised(spring, 5.5e5)).mid
    assert infer_from_earlier_pressure(spring, 5.5e5, depth_m - 0.0004).moved_fraction.high == 0.0
    with pytest.raises(ContradictoryReading):
        infer_from_earlier_pressure(spring, 5.5e5, depth_m - 0.0008)


@pytest.mark.parametrize("depth_m", [-0.001, 0.161, math.nan])
def test_a_depth_outside_the_stroke_is_refused(depth_m: float) -> None:
    for infer in (infer_from_earlier_pressure, infer_from_reading):
        with pytest.raises(ValueError, match=r"^rest_travel_m: "):
            infer(SPRING, 5e5, depth_m)


def test_pressures_below_vacuum_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match=r"^pressure_pa: "):
        infer_from_earlier_pressure(SPRING, -1.1e5, 0.05)
    with pytest.raises(ValueError, match=r"^reading_pa: "):
        infer_from_reading(SPRING, -1.1e5, 0.05)
    for infer in (infer_from_earlier_pressure, infer_from_reading):
        with pytest.raises(ValueError, match=r"^ambient_pa: "):
            infer(SPRING, 5e5, 0.05, ambient_pa=0.0)
        with pytest.raises(ValueError, match=r"^lower_leg_pa: "):
            infer(SPRING, 5e5, 0.05, lower_leg_pa=-1.0)
