"""How much faster the closed forms are than general solvers at one diagnosis. Never asserts a time.

Run with ``python3 manage.py test -m benchmark tests/benchmarks/test_air_spring_speed.py``; ``-s`` shows times too.
"""

from collections.abc import Callable
from dataclasses import replace
from statistics import median
from time import perf_counter

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, least_squares

from specs.physics.air_spring import (
    ChamberState,
    equalised,
    force,
    infer_from_earlier_pressure,
    infer_from_reading,
    pressures_at,
    rest_band,
    stuck,
)
from specs.physics.measured_fork import FITTED, ForceReading, fit_fork
from tests.physics.springs import SPRING
from tests.published.test_measured_fork import DRAWING, made_up

pytestmark = pytest.mark.benchmark

PRESSURE_PA, READING_PA, DEPTH_M, LOAD_N = 5.5e5, 4.5e5, 0.05, 600.0
AMBIENT_PA = 101325.0
TRAVELS_M = np.linspace(0.0, SPRING.travel_m, 101)
HELD_N = (SPRING.friction_n, 0.0, -SPRING.friction_n)


def by_closed_forms() -> NDArray[np.float64]:
    """A 101-point curve, a rest band and both inferences, as the screens ask for them."""
    state = equalised(SPRING, PRESSURE_PA)
    rest = rest_band(SPRING, state, LOAD_N)
    earlier = infer_from_earlier_pressure(SPRING, PRESSURE_PA, DEPTH_M).moved_fraction
    reading = infer_from_reading(SPRING, READING_PA, DEPTH_M).moved_fraction
    bands = [x for band in (rest, earlier, reading) for x in (band.low, band.mid, band.high)]
    return np.concatenate((force(SPRING, state, TRAVELS_M), bands))


def by_general_solvers() -> NDArray[np.float64]:
    """The same numbers from SciPy: the gas laws integrated, every root searched (default tolerances but rtol 1e-8)."""
    state = equalised(SPRING, PRESSURE_PA)
    rest = [searched_rest(state, -held) for held in HELD_N]
    earlier = [searched_earlier(held) for held in HELD_N]
    return np.concatenate((integrated_curve(state), rest, earlier, [searched_fraction(held) for held in HELD_N]))


def integrated_curve(state: ChamberState) -> NDArray[np.float64]:
    areas = np.array([SPRING.piston_area_m2, -SPRING.negative_area_m2, SPRING.lower_leg_area_m2])

    def slopes(x: float, absolute_pa: NDArray[np.float64]) -> NDArray[np.float64]:
        volumes = (SPRING.positive_volume_at(x), SPRING.negative_volume_at(x), SPRING.lower_leg_volume_at(x))
        changed: NDArray[np.float64] = absolute_pa * areas / np.array(volumes)
        return changed

    at_top = pressures_at(SPRING, state, 0.0)
    start = np.array([at_top.positive_pa, at_top.negative_pa, at_top.lower_leg_pa]) + AMBIENT_PA
    solved = solve_ivp(slopes, (0.0, SPRING.travel_m), start, t_eval=TRAVELS_M, rtol=1e-8)
    forces: NDArray[np.float64] = areas @ (solved.y - AMBIENT_PA)
    return forces


def searched_rest(state: ChamberState, held_n: float) -> float:
    return float(brentq(lambda x: force(SPRING, state, x) - LOAD_N - held_n, 0.0, SPRING.travel_m))


def searched_earlier(held_n: float) -> float:
    return float(brentq(lambda part: force(SPRING, stuck(SPRING, PRESSURE_PA, part), DEPTH_M) - held_n, 0.0, 1.0))


def searched_fraction(held_n: float) -> float:
    kept = (READING_PA + AMBIENT_PA) * SPRING.positive_volume_at(DEPTH_M) / SPRING.positive_at_port_m3

    def left_over_n(equalised_pa: float) -> float:
        part = max(0.0, 1 - kept / (equalised_pa + AMBIENT_PA))
        return force(SPRING, stuck(SPRING, equalised_pa, part), DEPTH_M) - held_n

    return float(1 - kept / (brentq(left_over_n, kept - AMBIENT_PA, 40e5) + AMBIENT_PA))


def seconds(work: Callable[[], object], times: int) -> float:
    work()
    spent = []
    for _ in range(times):
        start = perf_counter()
        work()
        spent.append(perf_counter() - start)
    return median(spent)


def test_curve_rest_and_inferences(ratios: Callable[[str, float], None]) -> None:
    """Same numbers first (force to 0.01 N, depth and fraction to 1e-6), then the ratio of medians in one run."""
    assert by_closed_forms() == pytest.approx(by_general_solvers(), rel=1e-6, abs=1e-2)
    assert by_closed_forms()[-9:] == pytest.approx(by_general_solvers()[-9:], abs=1e-6)
    closed_s, general_s = seconds(by_closed_forms, 200), seconds(by_general_solvers, 40)
    ratio = general_s / closed_s
    ratios("air spring, curve, rest and inferences: time of SciPy's solvers / closed forms", ratio)
    print(
        f"\ncurve, rest band and both inferences: {closed_s * 1e6:.0f} µs, {ratio:.0f} times as fast as SciPy's solvers"
    )


def test_the_fit_of_a_measured_fork(ratios: Callable[[str, float], None]) -> None:
    """66 readings, intervals with it, beside one bare `least_squares` of SciPy on the same curve."""
    readings = made_up(2.0, 3)
    found = least_squares_of(readings)
    ours = fit_fork(readings, DRAWING, ambient_pa=AMBIENT_PA)
    assert found == pytest.approx([ours[name].band.mid for name in FITTED], rel=1e-3)
    ours_s = seconds(lambda: fit_fork(readings, DRAWING, ambient_pa=AMBIENT_PA), 20)
    general_s = seconds(lambda: least_squares_of(readings), 20)
    ratios("measured fork, fit with its intervals: time of it / SciPy's least squares alone", ours_s / general_s)
    print(f"\nfit of a measured fork: {ours_s * 1e3:.1f} ms, SciPy's least squares alone {general_s * 1e3:.1f} ms")


def least_squares_of(readings: list[ForceReading]) -> NDArray[np.float64]:
    """Volumes, port and friction of the readings, in SI, by SciPy, from a start beside them."""
    signs = [1.0 if one.direction == "in" else -1.0 for one in readings]
    scale = np.array([1e-4, 1e-5, 1e-4, 1e-3, 10.0])

    def off(values: NDArray[np.float64]) -> list[float]:
        positive, negative, legs, port, friction = values * scale
        spring = replace(
            SPRING, travel_m=DRAWING.travel_m, piston_bore_m=DRAWING.piston_bore_m, air_shaft_m=DRAWING.air_shaft_m,
            damper_shaft_m=DRAWING.damper_shaft_m, stanchion_m=DRAWING.stanchion_m, positive_volume_m3=positive,
            negative_volume_m3=negative, lower_leg_volume_m3=legs, port_travel_m=port,
        )  # fmt: skip
        return [
            force(spring, equalised(spring, one.pressure_pa), one.travel_m) + sign * friction - one.force_n
            for one, sign in zip(readings, signs, strict=True)
        ]

    start = np.array([200e-6, 40e-6, 600e-6, 6e-3, 10.0]) / scale
    found: NDArray[np.float64] = least_squares(off, start, xtol=1e-10, ftol=1e-10).x * scale
    return found
