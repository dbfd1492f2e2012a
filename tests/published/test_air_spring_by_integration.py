"""The spring's closed forms against SciPy's general solvers: gas laws integrated, roots searched, energy summed."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from specs.physics.air_spring import (
    ChamberState,
    equalised,
    force,
    infer_from_earlier_pressure,
    infer_from_reading,
    pressure_for_sag,
    pressures_at,
    rest_band,
    stuck,
)
from tests.physics.springs import SPRING

AMBIENT_PA = 101325.0
STATES = [equalised(SPRING, 5.5e5), stuck(SPRING, 5.5e5, 0.3), stuck(SPRING, 8e5, 0.1, exponent=1.3)]


def integrated_curve(state: ChamberState, travels_m: np.ndarray) -> np.ndarray:
    """Force from dP/dx = -n P V'/V of each chamber, integrated from full extension by an 8th-order Runge-Kutta."""
    s, n = SPRING, state.exponent
    start = pressures_at(s, state, 0.0)

    def slopes(x: float, p: np.ndarray) -> list[float]:
        return [
            n * p[0] * s.piston_area_m2 / s.positive_volume_at(x),
            -n * p[1] * s.negative_area_m2 / s.negative_volume_at(x),
            n * p[2] * s.lower_leg_area_m2 / s.lower_leg_volume_at(x),
        ]

    absolute = [p + AMBIENT_PA for p in (start.positive_pa, start.negative_pa, start.lower_leg_pa)]
    solved = solve_ivp(slopes, (0.0, s.travel_m), absolute, method="DOP853", t_eval=travels_m, rtol=1e-11, atol=1e-4)
    gauge = solved.y - AMBIENT_PA
    areas = np.array([s.piston_area_m2, -s.negative_area_m2, s.lower_leg_area_m2])
    force: NDArray[np.float64] = areas @ gauge
    return force


@pytest.mark.parametrize("state", STATES)
def test_force_curve_against_solve_ivp(state: ChamberState) -> None:
    """101 points to a thousandth of a newton: the integrator's tolerance, far below any fork's friction."""
    travels_m = np.linspace(0.0, SPRING.travel_m, 101)
    assert force(SPRING, state, travels_m) == pytest.approx(integrated_curve(state, travels_m), abs=1e-3)


@pytest.mark.parametrize("state", STATES)
def test_work_of_the_force_is_the_energy_stored(state: ChamberState) -> None:
    """Integral of F dx (SciPy quad) against the closed-form work on each gas less that of the ambient: 1e-9 of it.

    This ties the sign of every term: force is the derivative of energy by travel.
    """
    s, n, end = SPRING, state.exponent, SPRING.travel_m

    def work(p0_pa: float, v0_m3: float, v1_m3: float) -> float:
        on_gas = math.log(v0_m3 / v1_m3) if n == 1.0 else ((v0_m3 / v1_m3) ** (n - 1) - 1) / (n - 1)
        return p0_pa * v0_m3 * on_gas - AMBIENT_PA * (v0_m3 - v1_m3)

    at0 = pressures_at(s, state, 0.0)
    stored_j = (
        work(at0.positive_pa + AMBIENT_PA, s.positive_volume_at(0.0), s.positive_volume_at(end))
        + work(at0.negative_pa + AMBIENT_PA, s.negative_volume_at(0.0), s.negative_volume_at(end))
        + work(at0.lower_leg_pa + AMBIENT_PA, s.lower_leg_volume_at(0.0), s.lower_leg_volume_at(end))
    )
    done_j, _ = quad(lambda x: force(s, state, x), 0.0, end, epsabs=1e-12, epsrel=1e-12)
    assert done_j == pytest.approx(stored_j, rel=1e-9)


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("load_n", [0.0, 350.0, 700.0])
def test_rest_against_brentq(state: ChamberState, load_n: float) -> None:
    """A nanometre: both are at the limit of double precision."""

    def root(target_n: float) -> float:
        if force(SPRING, state, 0.0) >= target_n:
            return 0.0
        return float(brentq(lambda x: force(SPRING, state, x) - target_n, 0.0, SPRING.travel_m, xtol=1e-13))

    rest = rest_band(SPRING, state, load_n)
    expected = [root(load_n + held) for held in (-SPRING.friction_n, 0.0, SPRING.friction_n)]
    assert [rest.low, rest.mid, rest.high] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("depth_m", [0.02, 0.05, 0.09])
def test_inference_from_the_earlier_pressure_against_brentq(depth_m: float) -> None:
    """The fraction at which the stuck model balances at that depth, searched instead of solved."""

    def fraction(held_n: float) -> float:
        def left_over_n(part: float) -> float:
            return force(SPRING, stuck(SPRING, 5.5e5, part), depth_m) - held_n

        return float(brentq(left_over_n, 0.0, 1.0, xtol=1e-14))

    moved = infer_from_earlier_pressure(SPRING, 5.5e5, depth_m).moved_fraction
    expected = [fraction(held) for held in (SPRING.friction_n, 0.0, -SPRING.friction_n)]
    assert [moved.low, moved.mid, moved.high] == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize("depth_m", [0.02, 0.05, 0.09])
def test_inference_from_a_reading_against_brentq(depth_m: float) -> None:
    """One unknown left, the pressure before: search it so that the model gives that reading and balances."""

    def earlier_and_fraction(held_n: float) -> tuple[float, float]:
        def fraction_for(pressure_pa: float) -> float:  # from the reading, at this trial pressure
            kept = (4.5e5 + AMBIENT_PA) * SPRING.positive_volume_at(depth_m)
            return 1 - kept / ((pressure_pa + AMBIENT_PA) * SPRING.positive_at_port_m3)

        def left_over_n(pressure_pa: float) -> float:
            state = stuck(SPRING, pressure_pa, fraction_for(pressure_pa))
            return force(SPRING, state, depth_m) - held_n

        lowest_pa = (4.5e5 + AMBIENT_PA) * SPRING.positive_volume_at(depth_m) / SPRING.positive_at_port_m3 - AMBIENT_PA
        pressure_pa = float(brentq(left_over_n, lowest_pa, 40e5, xtol=1e-7))
        return pressure_pa, fraction_for(pressure_pa)

    found = infer_from_reading(SPRING, 4.5e5, depth_m)
    for held_n, pressure_pa, part in (
        (SPRING.friction_n, found.equalised_pa.low, found.moved_fraction.low),
        (0.0, found.equalised_pa.mid, found.moved_fraction.mid),
        (-SPRING.friction_n, found.equalised_pa.high, found.moved_fraction.high),
    ):
        expected_pa, expected_part = earlier_and_fraction(held_n)
        assert pressure_pa == pytest.approx(expected_pa, rel=1e-9)
        assert part == pytest.approx(expected_part, abs=1e-9)


def test_pressure_for_sag_against_brentq() -> None:
    """The explicit pressure against a search over pressures for the same rest."""
    searched_pa = brentq(lambda p: rest_band(SPRING, equalised(SPRING, p), 600.0).mid - 0.035, 1e5, 20e5, xtol=1e-6)
    assert pressure_for_sag(SPRING, 600.0, 0.035) == pytest.approx(searched_pa, rel=1e-9)
