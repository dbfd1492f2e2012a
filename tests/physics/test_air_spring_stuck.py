import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.air_spring import AirSpring, equalised, pressures_at, stuck
from tests.physics.springs import SPRING, ambients_pa, fractions, pressures_pa, springs


def test_a_moved_fraction_is_amount_of_gas_from_the_positive_chamber() -> None:
    state = stuck(SPRING, 5e5, 0.25)
    at_port = pressures_at(SPRING, state, SPRING.port_travel_m)
    shared_pa = 5e5 + 101325.0
    assert at_port.positive_pa + 101325.0 == pytest.approx(0.75 * shared_pa)
    gained_pa = 0.25 * shared_pa * SPRING.positive_at_port_m3 / SPRING.negative_at_port_m3
    assert at_port.negative_pa + 101325.0 == pytest.approx(shared_pa + gained_pa)


def test_nothing_moved_is_equalised() -> None:
    assert stuck(SPRING, 5e5, 0.0, exponent=1.3) == equalised(SPRING, 5e5, exponent=1.3)


@given(springs(), pressures_pa, fractions, ambients_pa, st.floats(0.0, 1.0))
def test_no_gas_is_made_or_lost(spring: AirSpring, pressure: float, part: float, ambient: float, at: float) -> None:
    travel_m = at * spring.travel_m
    pressures = pressures_at(spring, stuck(spring, pressure, part, ambient_pa=ambient), travel_m)
    gas_j = (pressures.positive_pa + ambient) * spring.positive_volume_at(travel_m) + (
        pressures.negative_pa + ambient
    ) * spring.negative_volume_at(travel_m)
    total_m3 = spring.positive_at_port_m3 + spring.negative_at_port_m3
    assert gas_j == pytest.approx((pressure + ambient) * total_m3, rel=1e-9)


@pytest.mark.parametrize("part", [-0.01, 1.01, float("nan")])
def test_a_fraction_is_from_nothing_to_everything(part: float) -> None:
    with pytest.raises(ValueError, match=r"^moved_fraction: "):
        stuck(SPRING, 5e5, part)


def test_a_pressure_below_vacuum_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^pressure_pa: "):
        stuck(SPRING, -2e5, 0.1)
