"""A measured fork against the free body of tests/published/free_body.py: made-up readings of it, with noise, fitted.

The readings come from energies by finite differences (Boyle's law and virtual work, any textbook of mechanics), never
from the code under test; that the intervals hold the truth as often as they say is counted over seeds (a binomial, four
standard errors). The interval itself is compared with SciPy's curve_fit.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from specs.physics.measured_fork import FITTED, STANDARD_GRAVITY, Diameters, Direction, ForceReading, fit_fork
from tests.published.free_body import AMBIENT, Drawing, level

PSI = 6894.757293168361
FORK = Drawing()
TRUE = {
    "positive_volume_m3": FORK.positive_volume_m3,
    "negative_volume_m3": FORK.negative_volume_m3,
    "lower_leg_volume_m3": FORK.lower_leg_volume_m3,
    "port_travel_m": FORK.port_travel_m,
    "friction_n": FORK.friction_n,
}
DRAWING = Diameters(FORK.travel_m, FORK.piston_bore_m, FORK.air_shaft_m, FORK.damper_shaft_m, FORK.stanchion_m)
TRAVELS = (0.002, 0.006, 0.010, 0.016, 0.025, 0.040, 0.060, 0.080, 0.100, 0.120, 0.140)
WAYS: tuple[tuple[Direction, float], ...] = (("in", 1.0), ("out", -1.0))


def made_up(noise_n: float, seed: int, *, pressures: tuple[float, ...] = (60.0, 90.0, 120.0)) -> list[ForceReading]:
    """Readings of the free body, friction added by hand, and what scales add."""
    draw = np.random.default_rng(seed)
    return [
        ForceReading(
            psi * PSI,
            travel_m,
            level(FORK, psi * PSI).push(FORK, travel_m)
            + sign * FORK.friction_n
            + noise_n * float(draw.standard_normal()),
            way,
        )
        for psi in pressures
        for travel_m in TRAVELS
        for way, sign in WAYS
    ]


def test_exact_readings_give_the_fork_back() -> None:
    fit = fit_fork(made_up(0.0, 1), DRAWING, ambient_pa=AMBIENT)
    for name, true in TRUE.items():
        assert fit[name].band.mid == pytest.approx(true, rel=1e-4), name
        assert fit[name].may_be_taken


def test_the_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """200 made-up forks on scales good to 2 N: 90 % intervals, four standard errors either way (8.5 %)."""
    held = dict.fromkeys(FITTED, 0)
    for seed in range(200):
        fit = fit_fork(made_up(2.0, seed), DRAWING, ambient_pa=AMBIENT, confidence=0.9)
        for name, true in TRUE.items():
            held[name] += fit[name].band.contains(true)
    for name, count in held.items():
        assert count / 200 == pytest.approx(0.9, abs=0.085), name


def test_the_interval_is_that_of_curve_fit() -> None:
    """The same curve written out here with circles' areas, SciPy's curve_fit and its covariance, Student's t."""
    from scipy.optimize import curve_fit
    from scipy.stats import t as student

    readings = made_up(2.0, 7)
    bore, shaft = (np.pi * (d / 2) ** 2 for d in (FORK.piston_bore_m, FORK.air_shaft_m))
    legs_area = 2 * np.pi * (FORK.stanchion_m / 2) ** 2 - shaft - np.pi * (FORK.damper_shaft_m / 2) ** 2
    at = np.array([(r.pressure_pa + AMBIENT, r.travel_m, 1.0 if r.direction == "in" else -1.0) for r in readings]).T

    def curve(x: np.ndarray, vp: float, vn: float, vl: float, port: float, friction: float) -> np.ndarray:  # ml, mm, N
        p, travel, sign = x
        vp, vn, vl, port = vp * 1e-6, vn * 1e-6, vl * 1e-6, port * 1e-3
        up = p * (vp - bore * port) / (vp - bore * travel) - AMBIENT
        down = p * (vn + (bore - shaft) * port) / (vn + (bore - shaft) * travel) - AMBIENT
        legs = AMBIENT * vl / (vl - legs_area * travel) - AMBIENT
        return np.asarray(up * bore - down * (bore - shaft) + legs * legs_area + sign * friction)

    found, covariance = curve_fit(curve, at, [r.force_n for r in readings], p0=(200, 40, 600, 6, 10))
    half = student.ppf(0.975, len(readings) - 5) * np.sqrt(np.diag(covariance))
    fit = fit_fork(readings, DRAWING, ambient_pa=AMBIENT)
    for name, scale, value, width in zip(FITTED, (1e6, 1e6, 1e6, 1e3, 1.0), found, half, strict=True):
        assert fit[name].band.mid * scale == pytest.approx(value, rel=1e-3), name
        assert (fit[name].band.high - fit[name].band.mid) * scale == pytest.approx(width, rel=0.02), name


def test_a_fork_that_warmed_after_it_was_filled_holds_the_same_gas() -> None:
    """Gay-Lussac: filled at 20 °C and read at 30 °C, all its absolute pressures are 303.15/293.15 of what they were."""
    warmth = 303.15 / 293.15
    readings = []
    for psi in (60.0, 110.0):
        cold = level(FORK, psi * PSI)
        for travel_m in TRAVELS:
            p, n, legs = (gas * warmth for gas in cold.pressures(FORK, travel_m))
            bore, shaft, damper, stanchion = (
                np.pi * (d / 2) ** 2
                for d in (FORK.piston_bore_m, FORK.air_shaft_m, FORK.damper_shaft_m, FORK.stanchion_m)
            )
            push = (
                (p - AMBIENT) * bore
                - (n - AMBIENT) * (bore - shaft)
                + (legs - AMBIENT) * (2 * stanchion - shaft - damper)
            )
            readings += [ForceReading(psi * PSI, travel_m, push + s * 8.0, way, 293.15, 303.15) for way, s in WAYS]
    fit = fit_fork(readings, DRAWING, ambient_pa=AMBIENT)
    for name, true in TRUE.items():
        assert fit[name].band.mid == pytest.approx(true, rel=1e-3), name


def test_a_kilogram_on_the_scales_is_the_standard_one() -> None:
    """9.80665 m/s²: the third General Conference on Weights and Measures, 1901."""
    assert STANDARD_GRAVITY == 9.80665


def test_the_fit_takes_less_than_a_second() -> None:
    readings = made_up(2.0, 3)
    fit_fork(readings, DRAWING, ambient_pa=AMBIENT)
    begun = time.process_time()
    fit_fork(readings, DRAWING, ambient_pa=AMBIENT)
    assert time.process_time() - begun < 1.0
