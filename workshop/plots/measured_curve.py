"""A measured fork as a drawing: its readings, the fit they gave, and the model's own curve beside it.

Pure numbers in drawing units; `templates/plots/measured_curve.svg` puts them into SVG. Readings on the way in point up,
those on the way out down, so that the drawing holds in black and white.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnosis.spring_answer import UnitFor
from specs.physics.measured_fork import Diameters, ForceReading, force_on
from specs.units import from_si, number_text, show
from workshop.plots.axis import TickMark, round_step

WIDTH, HEIGHT = 720, 474
LEFT, RIGHT, TOP, BOTTOM = 74, 706, 22, 344
POINTS, MOST_CURVES = 61, 4


@dataclass(frozen=True)
class Mark:
    """One reading: the corners of its triangle."""

    points: str


@dataclass(frozen=True)
class Curve:
    """The curve of one pressure: what was fitted, its band of friction, and the model's, empty where it has none."""

    fitted: str
    band: str
    model: str
    label: str
    label_x: float
    label_y: float


@dataclass(frozen=True)
class MeasuredCurve:
    """Everything the SVG needs, in drawing units."""

    curves: tuple[Curve, ...]
    marks: tuple[Mark, ...]
    x_ticks: tuple[TickMark, ...]
    y_ticks: tuple[TickMark, ...]
    x_label: str
    y_label: str
    summary: str
    has_model: bool
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2

    @property
    def middle_y(self) -> float:
        return (self.top + self.bottom) / 2


def measured_curve(
    readings: Sequence[ForceReading],
    drawing: Diameters,
    fitted: Mapping[str, float],
    unit_for: UnitFor,
    *,
    ambient_pa: float,
    model: Mapping[str, float] | None = None,
) -> MeasuredCurve:
    """Draw readings and fit; `model` are the model's values of the same quantities, where all of them are known."""
    pressures = sorted({reading.pressure_pa for reading in readings})
    drawn = [pressures[round(at)] for at in np.linspace(0, len(pressures) - 1, min(MOST_CURVES, len(pressures)))]
    most_n = max(reading.force_n for reading in readings) * 1.08
    scale = _Scale(drawing.travel_m, most_n)
    length_unit, force_unit = unit_for("length"), unit_for("force")
    return MeasuredCurve(
        curves=tuple(_curve(pa, drawing, fitted, model, ambient_pa, scale, unit_for) for pa in drawn),
        marks=tuple(_mark(reading, scale) for reading in readings),
        x_ticks=_ticks(drawing.travel_m, "length", length_unit, scale.x, wanted=8),
        y_ticks=_ticks(most_n, "force", force_unit, scale.y, wanted=6),
        x_label=f"Travel from full extension, {length_unit}",
        y_label=f"Force pressing it in, {force_unit}",
        summary=f"{len(readings)} readings and the curve fitted to them, force over travel.",
        has_model=model is not None,
    )


@dataclass(frozen=True)
class _Scale:
    travel_m: float
    most_n: float

    def x(self, travel_m: float) -> float:
        return round(LEFT + travel_m / self.travel_m * (RIGHT - LEFT), 1)

    def y(self, force_n: float) -> float:
        return round(BOTTOM - max(0.0, force_n) / self.most_n * (BOTTOM - TOP), 1)


def _curve(
    pressure_pa: float,
    drawing: Diameters,
    fitted: Mapping[str, float],
    model: Mapping[str, float] | None,
    ambient_pa: float,
    scale: _Scale,
    unit_for: UnitFor,
) -> Curve:
    def along(values: Mapping[str, float], friction: float) -> list[tuple[float, float]]:
        still = {**values, "friction_n": 0.0}
        places = []
        for travel_m in np.linspace(0.0, drawing.travel_m, POINTS).tolist():
            reading = ForceReading(pressure_pa, travel_m, 0.0, "in")
            force_n = force_on(still, drawing, reading, ambient_pa=ambient_pa) + friction
            if force_n <= scale.most_n:
                places.append((scale.x(travel_m), scale.y(force_n)))
        return places

    middle, friction = along(fitted, 0.0), fitted["friction_n"]
    band = [*along(fitted, friction), *reversed(along(fitted, -friction))]
    end_x, end_y = middle[-1]
    return Curve(
        fitted=_points(middle),
        band=_points(band),
        model=_points(along(model, 0.0)) if model is not None else "",
        label=show(pressure_pa, "pressure", unit_for("pressure")),
        label_x=end_x,
        label_y=end_y,
    )


def _points(places: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)


def _mark(reading: ForceReading, scale: _Scale) -> Mark:
    x, y, turn = scale.x(reading.travel_m), scale.y(reading.force_n), -1 if reading.direction == "in" else 1
    corners = ((x, y + 5 * turn), (x - 4.5, y - 4 * turn), (x + 4.5, y - 4 * turn))
    return Mark(_points([(round(cx, 1), round(cy, 1)) for cx, cy in corners]))


def _ticks(
    most_si: float, dimension: str, unit: str, place: Callable[[float], float], *, wanted: int
) -> tuple[TickMark, ...]:
    """Round numbers in the shop's unit from nought, about as many as wanted."""
    most = from_si(most_si, dimension, unit)
    step = round_step(most / wanted)
    return tuple(
        TickMark(place(number * step / most * most_si), number_text(number * step, unit))
        for number in range(math.floor(most / step) + 1)
    )


def with_model(fitted: Mapping[str, float], known: Mapping[str, float | None]) -> Mapping[str, float] | None:
    """The model's values of what was fitted, or None where one of them is not known."""
    values = {name: known.get(name) for name in fitted}
    return None if None in values.values() else {name: float(value or 0.0) for name, value in values.items()}
