"""Bars from left to right, a row each with its words, as numbers for `templates/plots/bars.svg`. No Django.

A bar carries its figure in words; a mark beside it, such as what was planned, is a line with a foot, not a colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workshop.plots.axis import TickMark, axis_to

WIDTH = 720
LEFT, RIGHT, TOP = 270, 640, 30
ROW_HEIGHT, BAR_HEIGHT = 28, 16
LONGEST_WORDS = 38


@dataclass(frozen=True)
class BarValue:
    """A row: its words, its value, the figure in words, and the value of its mark."""

    words: str
    value: float
    figure: str
    mark: float | None = None


@dataclass(frozen=True)
class Bar:
    """A row in drawing units."""

    words: str
    y: float
    length: float
    figure: str
    mark_x: float | None

    @property
    def middle(self) -> float:
        return self.y + BAR_HEIGHT / 2

    @property
    def figure_x(self) -> float:
        """Where the figure stands: past the end of the bar, and past its mark."""
        return max(LEFT + self.length, self.mark_x or 0.0) + 8


@dataclass(frozen=True)
class Bars:
    """Everything the SVG needs, in drawing units."""

    key: str
    summary: str
    x_label: str
    bar_words: str
    mark_words: str
    bars: tuple[Bar, ...]
    x_ticks: tuple[TickMark, ...]
    height: int
    width: int = WIDTH
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bar_height: int = BAR_HEIGHT
    template: str = "plots/bars.svg"

    @property
    def bottom(self) -> int:
        return self.height - 44

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2


def bars(
    *,
    key: str,
    rows: Sequence[BarValue],
    x_label: str,
    summary: str,
    bar_words: str = "",
    mark_words: str = "",
    counts: bool = False,
) -> Bars | None:
    """Lay bars out in the order given, on whole numbers if they `counts`; None where there is nothing to draw."""
    most = max((max(row.value, row.mark or 0.0) for row in rows), default=0.0)
    if most <= 0:
        return None
    axis = axis_to(most, zero=LEFT, far=RIGHT, whole=counts)
    drawn = tuple(
        Bar(
            words=_cut(row.words),
            y=TOP + ROW_HEIGHT * number + (ROW_HEIGHT - BAR_HEIGHT) / 2,
            length=round(axis.place(row.value) - LEFT, 1),
            figure=row.figure,
            mark_x=None if row.mark is None else axis.place(row.mark),
        )
        for number, row in enumerate(rows)
    )
    return Bars(
        key=key,
        summary=summary,
        x_label=x_label,
        bar_words=bar_words,
        mark_words=mark_words,
        bars=drawn,
        x_ticks=axis.marks(),
        height=TOP + ROW_HEIGHT * len(rows) + 44,
    )


def _cut(words: str) -> str:
    return words if len(words) <= LONGEST_WORDS else f"{words[: LONGEST_WORDS - 1].rstrip()}…"
