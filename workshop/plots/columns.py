"""Columns over months, side by side or on top of each other, as numbers for `templates/plots/columns.svg`. No Django.

Fills differ by hatching and by edge as well as by colour, so that the drawing holds in black and white.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from workshop.plots.axis import Axis, TickMark, axis_to

WIDTH, HEIGHT = 720, 350
LEFT, RIGHT, TOP, BOTTOM = 66, 706, 46, 272
LABEL_WIDTH = 60


class Fill(StrEnum):
    """How an area is filled; the words are those of the template."""

    SOLID = "solid"
    HATCHED = "hatched"
    LIGHT = "light"


@dataclass(frozen=True)
class Series:
    """One value for each place of the axis, None where there is none."""

    words: str
    values: Sequence[float | None]
    fill: Fill


@dataclass(frozen=True)
class Block:
    """A rectangle in drawing units."""

    x: float
    y: float
    width: float
    height: float
    fill: Fill


@dataclass(frozen=True)
class KeyEntry:
    """A line of the key."""

    x: float
    words: str
    fill: Fill


@dataclass(frozen=True)
class Columns:
    """Everything the SVG needs, in drawing units."""

    key: str
    summary: str
    x_label: str
    y_label: str
    blocks: tuple[Block, ...]
    keys: tuple[KeyEntry, ...]
    x_ticks: tuple[TickMark, ...]
    y_ticks: tuple[TickMark, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM
    template: str = "plots/columns.svg"

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2

    @property
    def middle_y(self) -> float:
        return (self.top + self.bottom) / 2


def columns(
    *,
    key: str,
    places: Sequence[str],
    series: Sequence[Series],
    x_label: str,
    y_label: str,
    summary: str,
    stacked: bool = False,
    counts: bool = False,
) -> Columns | None:
    """Lay columns out; None where there is not one value to draw.

    Args:
        key: names the drawing on its page.
        places: the words below each place, from left to right.
        x_label: what the places are, such as the month of hand-back.
        y_label: what is counted, or its unit.
        stacked: on top of each other rather than side by side.
        counts: the values count things, so that the axis has whole numbers.

    Raises:
        ValueError: a series has another number of values than there are places.
    """
    for one in series:
        if len(one.values) != len(places):
            raise ValueError(f"{one.words}: {len(one.values)} values for {len(places)} places")
    tops = _tops(series, stacked)
    if not tops or max(tops) <= 0:
        return None
    axis = axis_to(max(tops), zero=BOTTOM, far=TOP, whole=counts)
    slot = (RIGHT - LEFT) / len(places)
    blocks = _stacked(series, axis, slot) if stacked else _side_by_side(series, axis, slot)
    every = math.ceil(len(places) * LABEL_WIDTH / (RIGHT - LEFT))
    x_ticks = tuple(
        TickMark(round(LEFT + slot * (n + 0.5), 1), words) for n, words in enumerate(places) if n % every == 0
    )
    return Columns(
        key=key,
        summary=summary,
        x_label=x_label,
        y_label=y_label,
        blocks=tuple(blocks),
        keys=_keys(series),
        x_ticks=x_ticks,
        y_ticks=axis.marks(),
    )


def _tops(series: Sequence[Series], stacked: bool) -> list[float]:
    if stacked:
        return [sum(value or 0.0 for value in at_place) for at_place in zip(*(s.values for s in series), strict=True)]
    return [value for one in series for value in one.values if value is not None]


def _side_by_side(series: Sequence[Series], axis: Axis, slot: float) -> list[Block]:
    width = round(min(slot * 0.8, 60.0) / len(series), 1)
    blocks = []
    for number, one in enumerate(series):
        for place, value in enumerate(one.values):
            if value:
                x = LEFT + slot * (place + 0.5) + width * (number - len(series) / 2)
                blocks.append(_block(x, width, 0.0, value, axis, one.fill))
    return blocks


def _stacked(series: Sequence[Series], axis: Axis, slot: float) -> list[Block]:
    width = round(min(slot * 0.62, 44.0), 1)
    blocks = []
    for place in range(len(series[0].values)):
        below = 0.0
        for one in series:
            value = one.values[place]
            if value:
                blocks.append(_block(LEFT + slot * (place + 0.5) - width / 2, width, below, value, axis, one.fill))
                below += value
    return blocks


def _block(x: float, width: float, below: float, value: float, axis: Axis, fill: Fill) -> Block:
    top, foot = axis.place(below + value), axis.place(below)
    return Block(round(x, 1), top, width, round(foot - top, 1), fill)


def _keys(series: Sequence[Series]) -> tuple[KeyEntry, ...]:
    entries, x = [], float(LEFT)
    for one in series:
        entries.append(KeyEntry(x, one.words, one.fill))
        x += 44 + 7.4 * len(one.words)
    return tuple(entries)
