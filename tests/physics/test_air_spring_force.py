import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.air_spring import AirSpring, ImpossibleValue, equalised, force, pressures_at, stiffness, stuck
from tests.physics.springs import SPRING, ambients_pa, changed, exponents, fractions, pressures_pa, springs


def test_force_at_the_port_is_the_pressure_on_the_shaft_plus_the_legs() -> None:
    state = equalised(SPRING, 5.5e5)
    legs_pa = 101325.0 * (SPRING.lower_leg_volume_m3 / SPRING.lower_leg_volume_at(0.004) - 1)
    expected_n = 5.5e5 * SPRING.shaft_area_m2 + legs_pa * SPRING.lower_leg_area_m2
    assert force(SPRING, state, 0.004) == pytest.approx(expected_n)


def test_nothing_pushes_in_an_empty_fork_equalised_at_full_extension() -> None:
    spring = changed(port_travel_m=0.0)
    assert force(spring, equalised(spring, 0.0), 0.0) == pytest.approx(0.0, abs=1e-9)


def test_pressures_add_up_to_the_force() -> None:
    state = stuck(SPRING, 5.5e5, 0.2)
    at = pressures_at(SPRING, state, 0.08)
    expected_n = (
        at.positive_pa * SPRING.piston_area_m2
        - at.negative_pa * SPRING.negative_area_m2
        + at.lower_leg_pa * SPRING.lower_leg_area_m2
    )
    assert force(SPRING, state, 0.08) == pytest.approx(expected_n)


def test_an_array_of_travels_gives_the_same_as_one_by_one() -> None:
    travels_m = np.linspace(0.0, SPRING.travel_m, 12).reshape(3, 4)
    for exponent in (1.0, 1.3):
        state = stuck(SPRING, 5.5e5, 0.2, exponent=exponent)
        curve = force(SPRING, state, travels_m)
        assert curve.shape == (3, 4)
        one_by_one = [force(SPRING, state, float(x)) for x in travels_m.flat]
        assert curve.ravel() == pytest.approx(one_by_one, rel=1e-14)


def test_a_number_gives_a_plain_float() -> None:
    assert type(force(SPRING, equalised(SPRING, 5e5), 0)) is float


@given(springs(), pressures_pa, fractions, ambients_pa, exponents)
def test_force_rises_with_travel(spring: AirSpring, pressure: float, part: float, ambient: float, n: float) -> None:
    state = stuck(spring, pressure, part, ambient_pa=ambient, exponent=n)
    curve = force(spring, state, np.linspace(0.0, spring.travel_m, 50))
    assert (np.diff(curve) > 0).all()


@given(springs(), pressures_pa, fractions, st.floats(0.01, 0.99), exponents)
def test_stiffness_is_the_slope_of_the_force(
    spring: AirSpring, pressure: float, part: float, where: float, n: float
) -> None:
    state = stuck(spring, pressure, part, exponent=n)
    travel_m, step_m = where * spring.travel_m, 1e-6
    slope = (force(spring, state, travel_m + step_m) - force(spring, state, travel_m - step_m)) / (2 * step_m)
    assert stiffness(spring, state, travel_m) == pytest.approx(slope, rel=1e-4)


@pytest.mark.parametrize("travel_m", [-1e-9, 0.1600001, math.nan])
def test_travel_outside_the_stroke_is_refused(travel_m: float) -> None:
    state = equalised(SPRING, 5e5)
    with pytest.raises(ImpossibleValue, match=r"^travel_m: "):
        force(SPRING, state, travel_m)
    with pytest.raises(ImpossibleValue, match=r"^travel_m: "):
        force(SPRING, state, np.array([0.0, travel_m]))


@pytest.mark.parametrize(
    ("arguments", "at_fault"),
    [
        ({"pressure_pa": -101325.0}, "pressure_pa"),
        ({"pressure_pa": math.nan}, "pressure_pa"),
        ({"ambient_pa": 0.0}, "ambient_pa"),
        ({"exponent": 0.9}, "exponent"),
        ({"exponent": 2.0}, "exponent"),
        ({"lower_leg_pa": 0.0}, "lower_leg_pa"),
        ({"lower_leg_pa": math.inf}, "lower_leg_pa"),
    ],
)
def test_impossible_states_name_the_field(arguments: dict[str, float], at_fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        equalised(SPRING, **{"pressure_pa": 5e5, **arguments})
