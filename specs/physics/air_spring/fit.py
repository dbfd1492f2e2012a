"""Geometry that no manual gives, from pump readings at a few travels."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

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
MOST_STEPS = 50


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
    Raises `ImpossibleValue` for too few readings or travels, `ContradictoryReading` if pressure does not rise.
    """
    require_within("confidence", confidence, 0.5, 0.999)
    travels_m, absolute_pa = _checked(readings, ambient_pa)
    constant, length_m = _starting_point(travels_m, absolute_pa)
    for _ in range(MOST_STEPS):
        slopes = _slopes(constant, length_m, travels_m)
        step = np.linalg.lstsq(slopes, absolute_pa - constant / (length_m - travels_m), rcond=None)[0]
        constant, length_m = constant + float(step[0]), length_m + float(step[1])
        if length_m <= travels_m.max():
            raise _not_a_chamber()
        if abs(step[1]) <= 1e-13 * length_m:
            break
    residuals = absolute_pa - constant / (length_m - travels_m)
    freedom = len(travels_m) - 2
    variance = float(residuals @ residuals) / freedom
    slopes = _slopes(constant, length_m, travels_m)
    length_error_m = math.sqrt(variance * float(np.linalg.inv(slopes.T @ slopes)[1, 1]))
    half_m = student_quantile(confidence, freedom) * length_error_m
    return ChamberFit(
        length_m=Band(length_m - half_m, length_m, length_m + half_m),
        confidence=confidence,
        residual_pa=math.sqrt(variance),
        readings=len(travels_m),
    )


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


def _starting_point(travels_m: FloatArray, absolute_pa: FloatArray) -> tuple[float, float]:
    # 1/P falls in a straight line with travel; weights undo what the inversion does to equal errors
    slope, at_zero = np.polyfit(travels_m, 1 / absolute_pa, 1, w=absolute_pa**2)
    if slope >= 0.0:
        raise _not_a_chamber()
    length_m = float(-at_zero / slope)
    if length_m <= travels_m.max():
        raise _not_a_chamber()
    return float(-1 / slope), length_m


def _slopes(constant: float, length_m: float, travels_m: FloatArray) -> FloatArray:
    gap_m = length_m - travels_m
    return np.column_stack((1 / gap_m, -constant / gap_m**2))


def _not_a_chamber() -> ContradictoryReading:
    return ContradictoryReading(
        "readings",
        "the pressures do not rise with travel as a closed chamber's would",
        likely_slip="Was a travel or a pressure swapped, or the fork let past its port between two readings?",
    )
