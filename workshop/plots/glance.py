"""A drawing of a figure made small for its card, as numbers for `templates/plots/glance.svg`. No Django.

What the large drawing holds at the scale of a card: its shapes, the ends of its axes, and what the axis counts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from workshop.plots.axis import TickMark
from workshop.plots.bars import Bars
from workshop.plots.columns import Columns, Fill, KeyEntry
from workshop.plots.survival import SurvivalCurve

WIDTH, HEIGHT = 340, 150
TOP, BOTTOM, RIGHT = 28, 122, 330
MOST_BARS = 4
_ROW, _BAR, _LONGEST = 24, 13, 19
_LETTER = 7.6  # a letter of 15 units is hardly wider
LEFT_OF_BARS, LEFT_OF_COLUMNS, ROOM_FOR_FIGURES = 150, 52, 66


@dataclass(frozen=True)
class SmallBlock:
    """A filled rectangle; `words` before it and `figure` behind it where it is a bar."""

    x: float
    y: float
    width: float
    height: float
    fill: Fill = Fill.SOLID
    words: str = ""
    figure: str = ""

    @property
    def foot(self) -> float:
        """Where the words of a bar stand."""
        return self.y + self.height

    @property
    def end(self) -> float:
        return self.x + self.width


@dataclass(frozen=True)
class Glance:
    """Everything the SVG needs, in drawing units, which are pixels on a phone."""

    key: str
    summary: str
    label: str
    """What the numbers of the drawing are, with their unit."""
    blocks: tuple[SmallBlock, ...] = ()
    line: str = ""
    x_ticks: tuple[TickMark, ...] = ()
    y_ticks: tuple[TickMark, ...] = ()
    keys: tuple[KeyEntry, ...] = ()
    left: float = LEFT_OF_COLUMNS
    more: str = ""
    """How much of the figure the card leaves out."""
    width: int = WIDTH
    height: int = HEIGHT
    top: int = TOP
    bottom: int = BOTTOM
    right: int = RIGHT
    template: str = "plots/glance.svg"


def glance(plot: Bars | Columns | SurvivalCurve) -> Glance:
    """The drawing made small."""
    if isinstance(plot, Bars):
        return _of_bars(plot)
    return _of_columns(plot) if isinstance(plot, Columns) else _of_curve(plot)


def _of_bars(plot: Bars) -> Glance:
    shown = plot.bars[:MOST_BARS]
    longest = max(bar.length for bar in plot.bars)
    scale = (RIGHT - ROOM_FOR_FIGURES - LEFT_OF_BARS) / longest
    blocks = tuple(
        SmallBlock(
            LEFT_OF_BARS,
            TOP + _ROW * number,
            round(bar.length * scale, 1),
            _BAR,
            words=bar.words if len(bar.words) <= _LONGEST else f"{bar.words[: _LONGEST - 1].rstrip('… ')}…",
            figure=bar.figure,
        )
        for number, bar in enumerate(shown)
    )
    left_out = len(plot.bars) - len(shown)
    return Glance(
        key=f"{plot.key}-small",
        summary=plot.summary,
        label=plot.x_label,
        blocks=blocks,
        left=LEFT_OF_BARS,
        bottom=TOP + _ROW * len(shown),
        more=f"and {left_out} more" if left_out else "",
    )


def _of_columns(plot: Columns) -> Glance:
    across, up = _scales(plot)
    blocks = tuple(
        SmallBlock(
            _across(block.x, plot, across),
            _down(block.y, plot, up),
            round(block.width * across, 1),
            round(block.height * up, 1),
            block.fill,
        )
        for block in plot.blocks
    )
    return Glance(
        key=f"{plot.key}-small",
        summary=plot.summary,
        label=plot.y_label,
        blocks=blocks,
        keys=_keys(plot),
        x_ticks=_ends(plot.x_ticks, lambda at: _across(at, plot, across)),
        y_ticks=_ends(plot.y_ticks, lambda at: _down(at, plot, up)),
    )


def _of_curve(plot: SurvivalCurve) -> Glance:
    across, up = _scales(plot)
    points = (point.split(",") for point in plot.steps.split())
    line = " ".join(f"{_across(float(x), plot, across)},{_down(float(y), plot, up)}" for x, y in points)
    return Glance(
        key=f"{plot.key}-small",
        summary=plot.summary,
        label="Still good, over ride hours",
        line=line,
        x_ticks=_ends(plot.x_ticks, lambda at: _across(at, plot, across)),
        y_ticks=_ends(plot.y_ticks, lambda at: _down(at, plot, up)),
    )


def _scales(plot: Columns | SurvivalCurve) -> tuple[float, float]:
    return (RIGHT - LEFT_OF_COLUMNS) / (plot.right - plot.left), (BOTTOM - TOP) / (plot.bottom - plot.top)


def _across(x: float, plot: Columns | SurvivalCurve, scale: float) -> float:
    return round(LEFT_OF_COLUMNS + (x - plot.left) * scale, 1)


def _down(y: float, plot: Columns | SurvivalCurve, scale: float) -> float:
    return round(TOP + (y - plot.top) * scale, 1)


def _ends(ticks: tuple[TickMark, ...], place: Callable[[float], float]) -> tuple[TickMark, ...]:
    """The first and the last mark of an axis: a card has no room for more."""
    return tuple(TickMark(place(tick.at), tick.words) for tick in dict.fromkeys((ticks[0], ticks[-1]))) if ticks else ()


def _keys(plot: Columns) -> tuple[KeyEntry, ...]:
    """What each filling stands for, behind the label; none where they would not all fit."""
    entries, x = [], 14.0 + _LETTER * len(plot.y_label)
    for one in plot.keys:
        entries.append(KeyEntry(x, one.words, one.fill))
        x += 28 + _LETTER * len(one.words)
    return tuple(entries) if x <= WIDTH + 8 else ()
