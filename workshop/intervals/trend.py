"""One setting over the years as a drawing: marks in drawing units for `templates/intervals/_trend.svg`. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 640, 220
LEFT, RIGHT, TOP, BOTTOM = 84, 620, 20, 176


@dataclass(frozen=True)
class TrendPoint:
    """A value on a day, its words, and whether it was read after the work."""

    on: dt.date
    value: float
    words: str
    after_work: bool


@dataclass(frozen=True)
class TrendMark:
    """A point in drawing units."""

    x: float
    y: float
    words: str
    day: str
    after_work: bool


@dataclass(frozen=True)
class Trend:
    """Marks and axis of the drawing. A line joins arrival and hand-back of one visit and the ride between visits."""

    marks: Sequence[TrendMark]
    line: str
    what: str
    """What is drawn, with its unit: the name of the upright axis."""
    top_words: str
    first_day: str
    last_day: str
    summary: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM
    middle: int = (TOP + BOTTOM) // 2


def trend_of(points: Sequence[TrendPoint], *, what: str) -> Trend | None:
    """Lay points out over their days from zero up; None for fewer than three, which a table says better."""
    if len(points) < 3:
        return None
    days = [point.on.toordinal() for point in points]
    first, last = min(days), max(days)
    most = max(point.value for point in points) or 1.0
    highest = max(points, key=lambda point: point.value)

    def place(point: TrendPoint) -> tuple[float, float]:
        along = (point.on.toordinal() - first) / ((last - first) or 1)
        x = LEFT + along * (RIGHT - LEFT)
        y = BOTTOM - max(point.value, 0.0) / most * (BOTTOM - TOP)
        return round(x, 1), round(y, 1)

    marks = [TrendMark(*place(point), point.words, f"{point.on:%b %Y}", point.after_work) for point in points]
    return Trend(
        marks=marks,
        what=what,
        line=" ".join(f"{mark.x},{mark.y}" for mark in marks),
        top_words=highest.words,
        first_day=marks[0].day,
        last_day=marks[-1].day,
        summary=f"From {marks[0].words} in {marks[0].day} to {marks[-1].words} in {marks[-1].day}; "
        f"at most {highest.words}.",
    )
