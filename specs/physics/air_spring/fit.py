"""Geometry that no manual gives, from pump readings at a few travels."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from mpmath import fp, mp

from specs.physics.air_spring.state import FloatArray
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.band import Band
from specs.physics.errors import (
    ContradictoryReading,
    ImpossibleValue,
    require_above_vacuum,
    require_not_negative,
    require_within,
)

FEWEST_READINGS = 3
MOST_STEPS, MOST_HALVINGS, CLOSE_ENOUGH = 100, 40, 1e-12


@dataclass(frozen=True)
class ChamberFit:
    """Positive volume at full extension over piston area (m), with its confidence interval, and how well it fits."""

    length_m: Band
    confidence: float
    residual_pa: float  # standard deviation of the readings about the fit
    readings: int

    def positive_volume_m3(self, piston_area_m2: float) -> Band:
        """The volume at full extension (pump hose included, if it stayed on) for a known piston area."""
        return Band(*(length * piston_area_m2 for length in (self.length_m.low, self.length_m.mid, self.length_m.high)))


def fit_chamber_length(
    readings: Sequence[tuple[float, float]], *, ambient_pa: float = SEA_LEVEL_PA, confidence: float = 0.95
) -> ChamberFit:
    """Vp0/Ap by least squares from three or more (travel in m, pump reading in Pa gauge) pairs.

    The model is (reading + ambient) (length - travel) = constant: slow, the pump left on, and the chambers not meeting
    between the readings (stay on one side of the port). The errors are the pump's, alike at every travel. The interval
    is Student's, from the slope of the model at the fit, with n - 2 degrees of freedom.
    Raises `ImpossibleValue` for too few readings or travels, `ContradictoryReading` if no closed
    chamber comes near the readings.
    """
    require_within("confidence", confidence, 0.5, 0.999)
    travels_m, absolute_pa = _checked(readings, ambient_pa)
    middle_m = float(travels_m.mean())
    offsets_m = travels_m - middle_m
    middle_pa, rise_per_m = _least_squares(offsets_m, absolute_pa)
    freedom = len(travels_m) - 2
    residuals = absolute_pa - _model(offsets_m, middle_pa, rise_per_m)
    variance = float(residuals @ residuals) / freedom
    slopes = _slopes(offsets_m, middle_pa, rise_per_m)
    rise_error_per_m = math.sqrt(variance * float(np.linalg.inv(slopes.T @ slopes)[1, 1]))
    length_m = middle_m + 1 / rise_per_m
    half_m = student_quantile(confidence, freedom) * rise_error_per_m / rise_per_m**2
    return ChamberFit(
        length_m=Band(length_m - half_m, length_m, length_m + half_m),
        confidence=confidence,
        residual_pa=math.sqrt(variance),
        readings=len(travels_m),
    )


@lru_cache(maxsize=64)
def student_quantile(confidence: float, freedom: int) -> float:
    """The t that a Student variable stays within, on both sides, with a given confidence."""

    def excess(t: float) -> float:
        tail = mp.betainc(freedom / 2, 0.5, 0, freedom / (freedom + t * t), regularized=True)
        return float(tail) - (1 - confidence)

    beyond = 1.0
    while excess(beyond) > 0.0:
        beyond *= 2
    bracket = (beyond / 2 if beyond > 1.0 else 0.0, beyond)
    return float(fp.findroot(excess, bracket, solver="anderson", maxsteps=100, verify=False))


def _checked(readings: Sequence[tuple[float, float]], ambient_pa: float) -> tuple[FloatArray, FloatArray]:
    if len(readings) < FEWEST_READINGS:
        raise ImpossibleValue("readings", f"{len(readings)} readings are too few: take {FEWEST_READINGS} or more")
    for travel_m, reading_pa in readings:
        require_not_negative("travel_m", travel_m)
        require_above_vacuum("reading_pa", reading_pa, ambient_pa)
    table = np.array(readings, dtype=np.float64)
    if np.ptp(table[:, 0]) == 0.0:
        raise ImpossibleValue("readings", "all readings are at one travel: take them at different travels")
    return table[:, 0], table[:, 1] + ambient_pa


def _least_squares(offsets_m: FloatArray, absolute_pa: FloatArray) -> tuple[float, float]:
    """Pressure at the middle travel and its relative rise per metre there, by Gauss-Newton with halved steps.

    In these two the model is nearly linear, which the length itself is not when the curve is flat.
    """
    steepest_per_m = 1 / float(offsets_m.max())
    # 1/P falls in a straight line with travel; weights undo what the inversion does to equal errors
    slope, at_middle = np.polyfit(offsets_m, 1 / absolute_pa, 1, w=absolute_pa**2)
    middle_pa, rise_per_m = float(1 / at_middle), float(-slope / at_middle)
    if at_middle <= 0.0 or not 0.0 < rise_per_m < steepest_per_m:
        raise _not_a_chamber()
    for _ in range(MOST_STEPS):
        residuals = absolute_pa - _model(offsets_m, middle_pa, rise_per_m)
        step, *_ = np.linalg.lstsq(_slopes(offsets_m, middle_pa, rise_per_m), residuals, rcond=None)
        relative_step, rise_step = float(step[0]), float(step[1])
        for _ in range(MOST_HALVINGS):
            tried_pa, tried_rise = middle_pa * (1 + relative_step), rise_per_m + rise_step
            if 0.0 < tried_rise < steepest_per_m:
                tried = absolute_pa - _model(offsets_m, tried_pa, tried_rise)
                if tried @ tried <= residuals @ residuals:
                    break
            relative_step, rise_step = relative_step / 2, rise_step / 2
        else:
            tried_pa, tried_rise = middle_pa, rise_per_m  # no step helps: this is the bottom, to rounding
        moved = abs(tried_rise - rise_per_m)
        middle_pa, rise_per_m = tried_pa, tried_rise
        if moved <= CLOSE_ENOUGH * rise_per_m:
            return middle_pa, rise_per_m
    raise _not_a_chamber()


def _model(offsets_m: FloatArray, middle_pa: float, rise_per_m: float) -> FloatArray:
    return middle_pa / (1 - rise_per_m * offsets_m)


def _slopes(offsets_m: FloatArray, middle_pa: float, rise_per_m: float) -> FloatArray:
    """Change of the model with a relative change of the middle pressure, and with the rise."""
    gaps = 1 - rise_per_m * offsets_m
    return np.column_stack((middle_pa / gaps, middle_pa * offsets_m / gaps**2))


def _not_a_chamber() -> ContradictoryReading:
    return ContradictoryReading(
        "readings",
        "the pressures do not rise with travel as those of a closed chamber would",
        likely_slip="Was a travel or a pressure swapped, or the fork let past its port between two readings?",
    )
