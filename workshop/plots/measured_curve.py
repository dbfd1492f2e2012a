"""A measured fork as a drawing: its readings, the fit they gave, and the model's own curve beside it.

Pure numbers in drawing units; `templates/plots/measured_curve.svg` puts them into SVG. Readings on the way in point up,
those on the way out down, so that the drawing holds in black and white.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnosis.spring_answer import UnitFor
from specs.physics.measured_fork import Diameters, ForceReading, force_on
from specs.units import from_si, number_text, show
from workshop.plots.axis import Frame, TickMark, round_step

WIDE = Frame(width=720, height=474, left=74, right=706, top=22, bottom=344, font_size=14, name_x=16)
NARROW = Frame(width=330, height=420, left=66, right=320, top=22, bottom=290, font_size=17, name_x=15)
"""For a phone: fewer curves and marks, so that its larger words do not lie over each other."""
POINTS, MOST_CURVES, MOST_NARROW = 61, 4, 3


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
    frame: Frame = WIDE
    key_x: int = 0
    read_words: str = "read on the way in (out: pointing down)"
    narrow: MeasuredCurve | None = None
    """The same drawn anew for a phone; the narrow one has none."""


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
    most_n = max(reading.force_n for reading in readings) * 1.08
    length_unit, force_unit = unit_for("length"), unit_for("force")

    def drawn(frame: Frame, *, most_curves: int, x_marks: int, y_marks: int) -> MeasuredCurve:
        scale = _Scale(drawing.travel_m, most_n, frame)
        shown = np.linspace(0, len(pressures) - 1, min(most_curves, len(pressures)))
        curves = [_curve(pressures[round(at)], drawing, fitted, model, ambient_pa, scale, unit_for) for at in shown]
        return MeasuredCurve(
            curves=_labels_apart(curves, frame),
            marks=tuple(_mark(reading, scale) for reading in readings),
            x_ticks=_ticks(drawing.travel_m, "length", length_unit, scale.x, wanted=x_marks),
            y_ticks=_ticks(most_n, "force", force_unit, scale.y, wanted=y_marks),
            x_label=f"Travel from full extension, {length_unit}",
            y_label=f"Force pressing it in, {force_unit}",
            summary=f"{len(readings)} readings and the curve fitted to them, force over travel.",
            has_model=model is not None,
            frame=frame,
            key_x=frame.left,
        )

    narrow = replace(
        drawn(NARROW, most_curves=MOST_NARROW, x_marks=4, y_marks=5),
        key_x=8,
        read_words="read going in (out: pointing down)",
    )
    return replace(drawn(WIDE, most_curves=MOST_CURVES, x_marks=8, y_marks=6), narrow=narrow)


def _labels_apart(curves: Sequence[Curve], frame: Frame) -> tuple[Curve, ...]:
    """The words of a curve move up where they would lie over those of the one below."""
    apart: list[Curve] = []
    for curve in sorted(curves, key=lambda one: -one.label_y):
        near = [one for one in apart if abs(one.label_x - curve.label_x) < 8 * frame.font_size]
        highest = min((one.label_y for one in near), default=math.inf)
        apart.append(replace(curve, label_y=round(min(curve.label_y, highest - 1.2 * frame.font_size), 1)))
    return tuple(apart)


@dataclass(frozen=True)
class _Scale:
    travel_m: float
    most_n: float
    frame: Frame

    def x(self, travel_m: float) -> float:
        return round(self.frame.left + travel_m / self.travel_m * self.frame.plot_width, 1)

    def y(self, force_n: float) -> float:
        return round(self.frame.bottom - max(0.0, force_n) / self.most_n * self.frame.plot_height, 1)


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
