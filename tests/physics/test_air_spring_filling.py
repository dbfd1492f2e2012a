import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.air_spring import (
    AirSpring,
    equalised,
    loss_without_repumping,
    pressures_at,
    pump_and_cycle,
    rounds_to_settle,
    settled_pressure,
)
from tests.physics.springs import SPRING, changed, pressures_pa, springs


def test_the_first_round_shares_the_pumped_gas_with_the_negative_chamber() -> None:
    [once] = pump_and_cycle(SPRING, 5.5e5, 1)
    gas_j = (5.5e5 + 101325.0) * 180e-6 + 101325.0 * 25e-6
    total_m3 = SPRING.positive_at_port_m3 + SPRING.negative_at_port_m3
    assert once == pytest.approx(gas_j / total_m3 - 101325.0)


def test_each_round_comes_nearer_to_where_it_settles() -> None:
    rounds = pump_and_cycle(SPRING, 5.5e5, 12)
    assert rounds == sorted(rounds)
    assert rounds[-1] == pytest.approx(settled_pressure(SPRING, 5.5e5), rel=1e-6)


@given(springs(), pressures_pa)
def test_settled_means_pumping_again_adds_nothing(spring: AirSpring, set_pa: float) -> None:
    """At full extension the positive chamber then already holds what the pump is set to."""
    state = equalised(spring, settled_pressure(spring, set_pa))
    assert pressures_at(spring, state, 0.0).positive_pa == pytest.approx(set_pa, rel=1e-9)


@given(springs(), pressures_pa, st.floats(100.0, 20_000.0))
def test_rounds_to_settle_are_enough_and_one_fewer_is_not(spring: AirSpring, set_pa: float, tolerance: float) -> None:
    needed = rounds_to_settle(spring, set_pa, tolerance)
    missing = [settled_pressure(spring, set_pa) - p for p in pump_and_cycle(spring, set_pa, needed)]
    assert missing[-1] <= tolerance * (1 + 1e-6) + 1e-3
    assert needed == 1 or missing[-2] > tolerance * (1 - 1e-6) - 1e-3


def test_what_is_lost_if_nobody_pumps_again() -> None:
    loss_pa = loss_without_repumping(SPRING, 5.5e5)
    assert loss_pa == pytest.approx(settled_pressure(SPRING, 5.5e5) - pump_and_cycle(SPRING, 5.5e5, 1)[0])
    assert 0.5e5 < loss_pa < 1e5  # about an eighth: the negative chamber's share


def test_a_negative_chamber_already_full_takes_nothing() -> None:
    spring = changed(port_travel_m=0.0)
    assert pump_and_cycle(spring, 5e5, 3, negative_pa=5e5) == pytest.approx([5e5, 5e5, 5e5])
    assert rounds_to_settle(spring, 5e5, 1.0, negative_pa=5e5) == 1


def test_no_rounds_no_pressures() -> None:
    assert pump_and_cycle(SPRING, 5e5, 0) == []


@pytest.mark.parametrize("cycles", [-1, 1.5, True])
def test_rounds_are_counted_in_whole_numbers(cycles: int) -> None:
    with pytest.raises(ValueError, match=r"^cycles: "):
        pump_and_cycle(SPRING, 5e5, cycles)


def test_impossible_pressures_name_the_field() -> None:
    with pytest.raises(ValueError, match=r"^set_pa: "):
        pump_and_cycle(SPRING, -2e5, 2)
    with pytest.raises(ValueError, match=r"^negative_pa: "):
        pump_and_cycle(SPRING, 5e5, 2, negative_pa=-2e5)
    with pytest.raises(ValueError, match=r"^ambient_pa: "):
        pump_and_cycle(SPRING, 5e5, 2, ambient_pa=0.0)
    with pytest.raises(ValueError, match=r"^tolerance_pa: "):
        rounds_to_settle(SPRING, 5e5, 0.0)
