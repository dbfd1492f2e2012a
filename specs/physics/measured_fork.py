"""A fork measured on scales: force over travel, fitted for its volumes, its port and its friction.

The diameters are the drawing's and are not fitted. Each reading says at which gauge pressure the chambers were level at
the port, how deep the fork stood, what it was pressed with along its axis, and which way it was moving: friction adds
to the force on the way in and takes from it on the way out. A fork that warms after it was filled holds the same gas.
Loaded on its own, for it brings SciPy along.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import stdtrit

from specs.physics.air_spring.geometry import circle_area
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.band import Band
from specs.physics.errors import ImpossibleValue, require_within

Direction = Literal["in", "out"]
FloatArray = NDArray[np.float64]

STANDARD_GRAVITY = 9.80665  # m/s², CGPM 1901: what a kilogram on the scales presses with
FEWEST_SPARE = 3  # readings beyond what is fitted
FEWEST_TRAVELS = 4
# The start of the search and its bounds: what any fork could have, as the spec values are bounded.
_START: Mapping[str, float] = {
    "positive_volume_m3": 200e-6, "negative_volume_m3": 40e-6, "lower_leg_volume_m3": 600e-6, "port_travel_m": 0.006,
    "friction_n": 10.0,
}  # fmt: skip
_LOW: Mapping[str, float] = {
    "positive_volume_m3": 10e-6, "negative_volume_m3": 0.5e-6, "lower_leg_volume_m3": 10e-6, "port_travel_m": 0.0,
    "friction_n": 0.0,
}  # fmt: skip
_HIGH: Mapping[str, float] = {
    "positive_volume_m3": 1e-3, "negative_volume_m3": 0.5e-3, "lower_leg_volume_m3": 2e-3, "port_travel_m": 0.040,
    "friction_n": 200.0,
}  # fmt: skip
FITTED = tuple(_START)
# An interval wider than this, either way, is poorly determined: shares of the value, and a depth. Common practice, no
# published source.
WIDEST_SHARE: Mapping[str, float] = {
    "positive_volume_m3": 0.10, "negative_volume_m3": 0.15, "lower_leg_volume_m3": 0.15, "friction_n": 0.50,
}  # fmt: skip
WIDEST_PORT_M = 0.0025
_ROBUST_FROM_N = 5.0  # beyond this a residual counts less, where slips are looked for
_LEAST_FRICTION_N = 2.0  # friction known to within this is known, however small it is


@dataclass(frozen=True)
class ForceReading:
    """One reading. `filled_k` is the temperature when the fork was filled to `pressure_pa`, `reading_k` the one now."""

    pressure_pa: float
    travel_m: float
    force_n: float
    direction: Direction
    filled_k: float = 293.15
    reading_k: float = 293.15


@dataclass(frozen=True)
class Diameters:
    """What the drawing says, m: not fitted."""

    travel_m: float
    piston_bore_m: float
    air_shaft_m: float
    damper_shaft_m: float
    stanchion_m: float

    @property
    def areas(self) -> tuple[float, float, float]:
        """Areas (m²) that the positive chamber, the negative chamber and the legs' air push on."""
        piston, shaft = circle_area(self.piston_bore_m), circle_area(self.air_shaft_m)
        legs = 2 * circle_area(self.stanchion_m) - shaft - circle_area(self.damper_shaft_m)
        return piston, piston - shaft, legs


@dataclass(frozen=True)
class Fitted:
    """One quantity: its value with its interval. `held` was not fitted but kept at a value known otherwise."""

    name: str
    band: Band
    is_poor: bool = False
    held: bool = False

    @property
    def may_be_taken(self) -> bool:
        """Whether it may become the unit's own value."""
        return not (self.is_poor or self.held)


@dataclass(frozen=True)
class ForkFit:
    """What the readings say: each quantity, the residual of each reading (N, in their order) and their spread."""

    fitted: tuple[Fitted, ...]
    residuals_n: tuple[float, ...]
    spread_n: float
    confidence: float

    def __getitem__(self, name: str) -> Fitted:
        return next(one for one in self.fitted if one.name == name)

    @property
    def values(self) -> dict[str, float]:
        """Every quantity at its best value, held ones too."""
        return {one.name: one.band.mid for one in self.fitted}


def force_on(values: Mapping[str, float], drawing: Diameters, reading: ForceReading, *, ambient_pa: float) -> float:
    """What a fork of these values is pressed with (N) where a reading was taken."""
    return float(_forces(np.array([values[name] for name in FITTED]), drawing, _columns([reading]), ambient_pa)[0])


def fit_fork(
    readings: Sequence[ForceReading],
    drawing: Diameters,
    *,
    ambient_pa: float = SEA_LEVEL_PA,
    confidence: float = 0.95,
    known: Mapping[str, float] | None = None,
) -> ForkFit:
    """The volumes, the port and the friction by SciPy's least squares, with Student's intervals.

    What comes out poorly determined is held at its `known` value (SI, by name), where there is one, and the rest fitted
    anew; it is never called measured. The errors are those of the scales, alike in every reading.
    Raises `ImpossibleValue` naming `readings` where there are too few, or too few travels.
    """
    require_within("confidence", confidence, 0.5, 0.999)
    _require_enough(readings, drawing)
    low, high = _bounds(drawing)
    usable = {name: value for name, value in (known or {}).items() if low[name] <= value <= high[name]}
    held: dict[str, float] = {}
    while True:
        fit = _fit(readings, drawing, ambient_pa, confidence, held)
        poor = [one.name for one in fit.fitted if one.is_poor and one.name in usable]
        if not poor:
            return fit
        widest = max(poor, key=lambda name: _width(fit[name]))
        held[widest] = usable[widest]


def robust_fit(readings: Sequence[ForceReading], drawing: Diameters, *, ambient_pa: float = SEA_LEVEL_PA) -> ForkFit:
    """The same fit, which a few wrong readings do not pull along: to find those, never to measure by."""
    _require_enough(readings, drawing)
    return _fit(readings, drawing, ambient_pa, 0.95, {}, loss="soft_l1")


def _width(one: Fitted) -> float:
    return (one.band.high - one.band.low) / max(abs(one.band.mid), 1e-12)


def _require_enough(readings: Sequence[ForceReading], drawing: Diameters) -> None:
    fewest = len(FITTED) + FEWEST_SPARE
    if len(readings) < fewest:
        raise ImpossibleValue("readings", f"{len(readings)} are too few: take {fewest} or more")
    for reading in readings:
        require_within("travel_m", reading.travel_m, 0.0, drawing.travel_m)
    if len({round(reading.travel_m, 4) for reading in readings}) < FEWEST_TRAVELS:
        raise ImpossibleValue("readings", f"take them at {FEWEST_TRAVELS} travels or more")


def _fit(
    readings: Sequence[ForceReading],
    drawing: Diameters,
    ambient_pa: float,
    confidence: float,
    held: Mapping[str, float],
    *,
    loss: Literal["linear", "soft_l1"] = "linear",
) -> ForkFit:
    free = [name for name in FITTED if name not in held]
    if len({reading.direction for reading in readings}) == 1 and "friction_n" in free:
        free.remove("friction_n")  # one way only, friction is not to be told from the spring
    columns = _columns(readings)
    measured = np.array([reading.force_n for reading in readings])
    low, high = _bounds(drawing)
    start = {name: min(max(_START[name], low[name] * 1.05), high[name]) for name in FITTED} | dict(held)
    scale = np.array([max(abs(_START[name]), 1e-12) for name in free])

    def theta(scaled: FloatArray) -> FloatArray:
        found = dict(start) | dict(zip(free, (scaled * scale).tolist(), strict=True))
        return np.array([found[name] for name in FITTED])

    solved = least_squares(
        lambda scaled: _forces(theta(scaled), drawing, columns, ambient_pa) - measured,
        x0=np.array([start[name] for name in free]) / scale,
        bounds=(np.array([low[name] for name in free]) / scale, np.array([high[name] for name in free]) / scale),
        xtol=1e-12, ftol=1e-12, gtol=1e-12, max_nfev=200, loss=loss, f_scale=_ROBUST_FROM_N,
    )  # fmt: skip
    freedom = len(readings) - len(free)
    variance = float(solved.fun @ solved.fun) / freedom
    half = _half_widths(solved.jac, variance, float(stdtrit(freedom, (1 + confidence) / 2))) * scale
    best = dict(zip(FITTED, theta(solved.x).tolist(), strict=True))
    halves = dict(zip(free, half.tolist(), strict=True))
    fitted = tuple(
        _judged(name, best[name], halves.get(name), name in held, (low[name], high[name])) for name in FITTED
    )
    return ForkFit(fitted, tuple((-solved.fun).tolist()), variance**0.5, confidence)


def _half_widths(jacobian: FloatArray, variance: float, student_t: float) -> FloatArray:
    """Half of each interval; endless where the readings say nothing of a quantity."""
    _, singular, rows = np.linalg.svd(jacobian, full_matrices=False)
    if singular.size == 0 or singular[-1] <= singular[0] * 1e-10:
        return np.full(jacobian.shape[1], np.inf)
    covariance = (rows.T / singular**2) @ rows * variance
    return np.asarray(student_t * np.sqrt(np.diag(covariance)))


def _judged(name: str, value: float, half: float | None, held: bool, bounds: tuple[float, float]) -> Fitted:
    if half is None:
        return Fitted(name, Band(value, value, value), is_poor=not held, held=held)
    band = Band(max(0.0, value - half), value, value + half)
    widest = {"port_travel_m": WIDEST_PORT_M}.get(name, WIDEST_SHARE.get(name, 0.0) * value)
    if name == "friction_n":
        widest = max(widest, _LEAST_FRICTION_N)
    at_bound = name != "friction_n" and (value <= bounds[0] * 1.001 or value >= bounds[1] * 0.999) and bounds[0] > 0
    return Fitted(name, band, is_poor=not half <= widest or at_bound, held=held)


def _bounds(drawing: Diameters) -> tuple[dict[str, float], dict[str, float]]:
    """No chamber vanishes before full travel, and the port is on the way."""
    piston, _, legs = drawing.areas
    low, high = dict(_LOW), dict(_HIGH)
    low["positive_volume_m3"] = max(low["positive_volume_m3"], piston * drawing.travel_m * 1.001)
    low["lower_leg_volume_m3"] = max(low["lower_leg_volume_m3"], legs * drawing.travel_m * 1.001)
    high["port_travel_m"] = min(high["port_travel_m"], drawing.travel_m)
    for name in ("positive_volume_m3", "lower_leg_volume_m3"):
        high[name] = max(high[name], 2 * low[name])  # a fork beyond what is plausible is fitted all the same
    return low, high


@dataclass(frozen=True)
class _Columns:
    pressure_pa: FloatArray
    travel_m: FloatArray
    sign: FloatArray
    warmth: FloatArray


def _columns(readings: Sequence[ForceReading]) -> _Columns:
    return _Columns(
        np.array([one.pressure_pa for one in readings]),
        np.array([one.travel_m for one in readings]),
        np.array([1.0 if one.direction == "in" else -1.0 for one in readings]),
        np.array([one.reading_k / one.filled_k for one in readings]),
    )


def _forces(theta: FloatArray, drawing: Diameters, at: _Columns, ambient_pa: float) -> FloatArray:
    positive_m3, negative_m3, legs_m3, port_m, friction_n = theta
    piston, ring, legs = drawing.areas
    shared = at.pressure_pa + ambient_pa
    positive = shared * at.warmth * (positive_m3 - piston * port_m) / (positive_m3 - piston * at.travel_m)
    negative = shared * at.warmth * (negative_m3 + ring * port_m) / (negative_m3 + ring * at.travel_m)
    below = ambient_pa * at.warmth * legs_m3 / (legs_m3 - legs * at.travel_m)
    pushed = (positive - ambient_pa) * piston - (negative - ambient_pa) * ring + (below - ambient_pa) * legs
    return np.asarray(pushed + at.sign * friction_n)
