"""Axes: round numbers at even places, and lengths in drawing units. No Django."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class TickMark:
    """A mark on an axis: its place in drawing units and its words."""

    at: float
    words: str


@dataclass(frozen=True)
class Frame:
    """Where a drawing has its axes, in drawing units, and how large its words are; one for a desk, one for a phone."""

    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    font_size: int
    name_x: int
    """Where the name of the upright axis stands."""

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2

    @property
    def middle_y(self) -> float:
        return (self.top + self.bottom) / 2

    @property
    def plot_width(self) -> int:
        return self.right - self.left

    @property
    def plot_height(self) -> int:
        return self.bottom - self.top


@dataclass(frozen=True)
class Axis:
    """From nought at `zero` to `most` at `far`, in drawing units; `far` may be above or right of `zero`."""

    most: float
    zero: float
    far: float
    step: float

    def place(self, value: float) -> float:
        return round(self.zero + value / self.most * (self.far - self.zero), 1)

    def marks(self) -> tuple[TickMark, ...]:
        """Round numbers from nought to the end."""
        decimals = max(0, -math.floor(math.log10(self.step) + 1e-9))
        count = round(self.most / self.step)
        return tuple(TickMark(self.place(n * self.step), f"{n * self.step:,.{decimals}f}") for n in range(count + 1))


def axis_to(value: float, *, zero: float, far: float, wanted: int = 5, whole: bool = False) -> Axis:
    """An axis from nought that ends at a round number, not below `value`; `whole` where it counts things."""
    value = value if value > 0 else 1.0
    step = round_step(max(value / wanted, 1.0) if whole else value / wanted)
    return Axis(math.ceil(value / step - 1e-9) * step, zero, far, step)


def round_step(rough: float) -> float:
    """1, 2 or 5 times a power of ten, not below `rough`."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough * (1 - 1e-9))
