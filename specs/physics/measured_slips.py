"""Readings of a measured fork that cannot be meant: which, and the likely slip.

Found by a fit that a few wrong readings do not pull along. Limits are common practice, no published source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import median

from specs.physics.measured_fork import (
    STANDARD_GRAVITY,
    Diameters,
    ForceReading,
    ForkFit,
    force_on,
    robust_fit,
)

WHOLE = -1  # in place of a reading: all of them together
SAME_PRESSURE, SAME_DEPTH_M = 0.005, 0.0005
# A reading this far off the others is no noise of the scales: as many spreads, newtons and share of the force.
_SPREADS, _LEAST_N, _LEAST_SHARE = 6.0, 12.0, 0.06
_TOO_MANY, _MOST_SHARE = 0.25, 0.10
_GOOD_SHARE, _NO_FRICTION_N = 0.02, 0.5  # a fit so good, or with friction, needs no other explanation
_BETTER = 3.0  # so many times better all of them fit another way


def slips(readings: Sequence[ForceReading], drawing: Diameters, *, ambient_pa: float) -> Mapping[int, str]:
    """What is wrong by place in `readings` (or WHOLE), in words with the likely slip; empty where all of it can be.

    Raises `ImpossibleValue` as the fit does.
    """
    fit = robust_fit(readings, drawing, ambient_pa=ambient_pa)
    if said := _all_of_them(readings, fit, drawing, ambient_pa):
        return {WHOLE: said}
    found = _outliers(readings, fit, drawing, ambient_pa)
    usual = median(abs(residual) for residual in fit.residuals_n)
    if len(found) > _TOO_MANY * len(readings) or usual > _MOST_SHARE * median(one.force_n for one in readings):
        return {
            WHOLE: f"The readings contradict each other: half of them are {usual:.3g} N or more off any spring of "
            "these diameters. Look at the diameters, at the pressures, and whether the fork let past its port between "
            "them."
        }
    return found


def _share_off(readings: Sequence[ForceReading], fit: ForkFit) -> float:
    """Spread of the residuals as a share of the forces, so that other units compare."""
    squares = math.fsum(residual**2 for residual in fit.residuals_n)
    forces = math.fsum(reading.force_n**2 for reading in readings)
    return math.sqrt(squares / forces) if forces else math.inf


def _all_of_them(readings: Sequence[ForceReading], fit: ForkFit, drawing: Diameters, ambient_pa: float) -> str:
    """Where all readings together make far more sense in another way."""
    off = _share_off(readings, fit)
    in_other_units = {
        "The forces look like kilograms: was kg meant for N?": [
            replace(one, force_n=one.force_n * STANDARD_GRAVITY) for one in readings
        ],
        "The forces look like newtons: was N meant for kg?": [
            replace(one, force_n=one.force_n / STANDARD_GRAVITY) for one in readings
        ],
    }
    turned = {
        "In and out look swapped: on the way in the fork takes more force than on the way out.": [
            replace(one, direction="out" if one.direction == "in" else "in") for one in readings
        ],
    }
    others = (in_other_units if off > _GOOD_SHARE else {}) | (
        turned if fit.values["friction_n"] < _NO_FRICTION_N else {}
    )
    for said, tried in others.items():
        if _share_off(tried, robust_fit(tried, drawing, ambient_pa=ambient_pa)) * _BETTER < off:
            return said
    return ""


def _outliers(readings: Sequence[ForceReading], fit: ForkFit, drawing: Diameters, ambient_pa: float) -> dict[int, str]:
    spread = 1.4826 * median(abs(residual) for residual in fit.residuals_n)
    found = {}
    for place, (reading, residual) in enumerate(zip(readings, fit.residuals_n, strict=True)):
        expected = reading.force_n - residual
        allowed = max(_SPREADS * spread, _LEAST_N, _LEAST_SHARE * abs(expected))
        if abs(residual) > allowed:
            found[place] = _said(reading, expected, allowed, fit, drawing, ambient_pa)
    return found


def _said(
    reading: ForceReading, expected: float, allowed: float, fit: ForkFit, drawing: Diameters, ambient_pa: float
) -> str:
    here = f"{reading.force_n:.4g} N does not fit the other readings, by which it would be about {expected:.4g} N."
    if abs(reading.force_n * STANDARD_GRAVITY - expected) <= allowed:
        return f"{here} It looks like {reading.force_n:.4g} kg typed as newtons."
    turned = replace(reading, direction="out" if reading.direction == "in" else "in")
    if abs(reading.force_n - force_on(fit.values, drawing, turned, ambient_pa=ambient_pa)) <= allowed / 2:
        return f"{here} It fits the other way: was it read on the way {turned.direction}?"
    if abs(reading.force_n / 10 - expected) <= allowed or abs(reading.force_n * 10 - expected) <= allowed:
        return f"{here} Was a decimal point lost?"
    return f"{here} Read it again, or take it out."
