"""One setting over the years as a drawing: marks in drawing units for `templates/intervals/_trend.svg`. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from workshop.plots.axis import Frame

WIDE = Frame(width=640, height=220, left=84, right=620, top=20, bottom=176, font_size=14, name_x=16)
NARROW = Frame(width=330, height=260, left=84, right=318, top=20, bottom=196, font_size=17, name_x=15)
"""For a phone: its words as large as those beside it, the key below the days."""


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
    frame: Frame = WIDE
    key_x: int = 250
    key_y: int = 206
    narrow: Trend | None = None
    """The same drawn anew for a phone; the narrow one has none."""


def trend_of(points: Sequence[TrendPoint], *, what: str) -> Trend | None:
    """Lay points out over their days from zero up; None for fewer than three, which a table says better."""
    if len(points) < 3:
        return None
    days = [point.on.toordinal() for point in points]
    first, last = min(days), max(days)
    most = max(point.value for point in points) or 1.0
    highest = max(points, key=lambda point: point.value)

    def drawn(frame: Frame) -> Trend:
        def place(point: TrendPoint) -> tuple[float, float]:
            along = (point.on.toordinal() - first) / ((last - first) or 1)
            x = frame.left + along * frame.plot_width
            y = frame.bottom - max(point.value, 0.0) / most * frame.plot_height
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
            frame=frame,
        )

    return replace(drawn(WIDE), narrow=replace(drawn(NARROW), key_x=84, key_y=250))
