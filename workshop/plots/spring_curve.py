"""The spring curve as a drawing: force over travel, where the fork rests, and what could bring it back.

Pure numbers in drawing units; `templates/plots/spring_curve.svg` puts them into SVG. Lines differ by dash and weight as
well as by colour, so that the drawing holds in black and white.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from diagnosis.spring_answer import SpringAnswer, UnitFor
from specs.physics.air_spring import AirSpring, ChamberState, equalised, force
from specs.units import from_si, number_text, show
from workshop.plots.axis import Frame, TickMark, round_step

WIDE = Frame(width=520, height=426, left=82, right=498, top=16, bottom=290, font_size=17, name_x=20)
NARROW = Frame(width=330, height=446, left=72, right=318, top=16, bottom=264, font_size=17, name_x=17)
"""For a phone: its words are as large as on a desk, and the key stands in one column."""
KEYS_BELOW, KEY_HEIGHT, KEY_WIDTH = 72, 24, 232
POINTS = 101

FloatArray = NDArray[np.float64]
Numbers = TypeVar("Numbers", float, FloatArray)


@dataclass(frozen=True)
class CurveLine:
    """One curve: SVG polyline points, its words, and where its words stand."""

    points: str
    label: str


@dataclass(frozen=True)
class SpringCurve:
    """Everything the SVG needs, in drawing units."""

    healthy: CurveLine
    friction_band: str
    now: CurveLine | None
    at_maximum: CurveLine | None
    zero_y: float
    rest_x: float
    rest_words: str
    rest_words_left: bool
    port_x: float
    port_words: str
    healthy_from_x: float
    healthy_to_x: float
    x_ticks: tuple[TickMark, ...]
    y_ticks: tuple[TickMark, ...]
    x_label: str
    y_label: str
    summary: str
    frame: Frame = WIDE
    narrow: SpringCurve | None = None
    """The same drawn anew for a phone; the narrow one has none."""

    @property
    def healthy_width(self) -> float:
        return round(max(2.0, self.healthy_to_x - self.healthy_from_x), 1)

    @property
    def keys(self) -> list[dict[str, object]]:
        """The key of the drawing: the same strokes with their words, below the axes, where no line strikes them."""
        keys: list[dict[str, object]] = []
        if self.now is not None:
            keys.append({"words": self.now.label, "colour": "#9c281b", "weight": 4, "dash": ""})
        if self.at_maximum is not None:
            keys.append({"words": self.at_maximum.label, "colour": "#2c526b", "weight": 2, "dash": "9 5"})
        keys.append({"words": self.healthy.label, "colour": "#285c3b", "weight": 2, "dash": ""})
        keys.append({"words": "range left by friction", "colour": "#c9c6be", "weight": 9, "dash": ""})
        keys.append({"words": "where a healthy one rests", "colour": "#dfeade", "weight": 9, "dash": ""})
        abreast = max(1, self.frame.width // KEY_WIDTH)
        top = self.frame.bottom + KEYS_BELOW
        return [
            {**key, "x": 12 + KEY_WIDTH * (number % abreast), "y": top + KEY_HEIGHT * (number // abreast)}
            for number, key in enumerate(keys)
        ]


def spring_curve(spring: AirSpring, answer: SpringAnswer, unit_for: UnitFor) -> SpringCurve | None:
    """Draw an answer; None where its readings contradict each other and there is nothing to draw."""
    if answer.state is None or answer.healthy is None:
        return None
    travels_m = np.linspace(0.0, spring.travel_m, POINTS)
    level = equalised(spring, answer.pressure_pa, ambient_pa=answer.ambient_pa)
    healthy_n = force(spring, level, travels_m)
    now_n = force(spring, answer.state, travels_m) if answer.is_stuck else None
    at_maximum_n = force(spring, _at_maximum(spring, answer.state), travels_m) if answer.is_stuck else None
    low_n, high_n = _range_shown(spring, healthy_n, now_n, answer.rest_travel_m)
    length_unit, force_unit = unit_for("length"), unit_for("force")
    healthy = answer.healthy

    def drawn(frame: Frame, *, x_marks: int, y_marks: int, narrow: SpringCurve | None = None) -> SpringCurve:
        scale = _Scale(spring.travel_m, low_n, high_n, frame)
        rest_x = scale.x(answer.rest_travel_m)
        return SpringCurve(
            healthy=CurveLine(scale.points(travels_m, healthy_n), "healthy"),
            friction_band=scale.band(travels_m, healthy_n - spring.friction_n, healthy_n + spring.friction_n),
            now=None if now_n is None else CurveLine(scale.points(travels_m, now_n), "as it is now"),
            at_maximum=None
            if at_maximum_n is None
            else CurveLine(scale.points(travels_m, at_maximum_n), "at maximum pressure"),
            zero_y=scale.y(0.0),
            rest_x=rest_x,
            rest_words=f"rests {show(answer.rest_travel_m, 'length', length_unit)} in",
            rest_words_left=rest_x > frame.middle_x,
            port_x=scale.x(spring.port_travel_m),
            port_words="port",
            healthy_from_x=scale.x(healthy.low),
            healthy_to_x=scale.x(healthy.high),
            x_ticks=_ticks(0.0, spring.travel_m, "length", length_unit, scale.x, wanted=x_marks),
            y_ticks=_ticks(low_n, high_n, "force", force_unit, scale.y, wanted=y_marks),
            x_label=f"Travel from full extension, {length_unit}",
            y_label=f"Force pushing out, {force_unit}",
            summary=answer.headline,
            frame=frame,
            narrow=narrow,
        )

    return drawn(WIDE, x_marks=8, y_marks=6, narrow=drawn(NARROW, x_marks=4, y_marks=5))


def _at_maximum(spring: AirSpring, state: ChamberState) -> ChamberState:
    """The same stuck air with the positive chamber pumped until it holds the maximum at the port."""
    return replace(state, positive_at_port_absolute_pa=spring.max_pressure_pa + state.ambient_pa)


def _range_shown(
    spring: AirSpring, healthy_n: FloatArray, now_n: FloatArray | None, rest_travel_m: float
) -> tuple[float, float]:
    """Enough below nought for the greatest pull, and as much above as keeps the resting place in view."""
    lowest = float(min(healthy_n.min(), now_n.min() if now_n is not None else 0.0, -spring.friction_n))
    shown_to = min(POINTS - 1, int(1.5 * rest_travel_m / spring.travel_m * POINTS) + 25)
    highest = float(healthy_n[shown_to])
    return lowest * 1.08, max(highest, -lowest) * 1.02


@dataclass(frozen=True)
class _Scale:
    """Travel and force to drawing units."""

    travel_m: float
    low_n: float
    high_n: float
    frame: Frame

    def x(self, travel_m: float) -> float:
        return round(self._xs(travel_m), 1)

    def y(self, force_n: float) -> float:
        return round(self._ys(force_n), 1)

    def _xs(self, travels_m: Numbers) -> Numbers:
        return self.frame.left + travels_m / self.travel_m * self.frame.plot_width

    def _ys(self, forces_n: Numbers) -> Numbers:
        return self.frame.bottom - (forces_n - self.low_n) / (self.high_n - self.low_n) * self.frame.plot_height

    def points(self, travels_m: FloatArray, forces_n: FloatArray) -> str:
        kept = forces_n <= self.high_n
        places = np.stack((self._xs(travels_m[kept]), self._ys(forces_n[kept])), axis=-1)
        return " ".join([f"{x},{y}" for x, y in places.round(1).tolist()])

    def band(self, travels_m: FloatArray, low_n: FloatArray, high_n: FloatArray) -> str:
        kept = high_n <= self.high_n
        there = self.points(travels_m[kept], np.maximum(low_n[kept], self.low_n))
        back = self.points(travels_m[kept][::-1], high_n[kept][::-1])
        return f"{there} {back}"


def _ticks(
    low_si: float, high_si: float, dimension: str, unit: str, place: Callable[[float], float], *, wanted: int
) -> tuple[TickMark, ...]:
    """Round numbers in the shop's unit, about as many as wanted."""
    low, high = from_si(low_si, dimension, unit), from_si(high_si, dimension, unit)
    step = round_step((high - low) / wanted)
    to_si = (high_si - low_si) / (high - low)
    marks = []
    for number in range(math.ceil(low / step), math.floor(high / step) + 1):
        value = number * step
        marks.append(TickMark(place(low_si + (value - low) * to_si), number_text(value, unit)))
    return tuple(marks)
