"""How many parts are still good after so many ride hours, drawn as steps for `templates/plots/survival.svg`. No Django.

The steps are Turnbull's estimate, slanting where nobody saw when the share fell, the grey band its band, crosses on
the line are parts that were still good when last heard of, and the broken line is the Weibull fit. Each differs by
stroke, not by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workshop.plots.axis import TickMark, axis_to

WIDTH, HEIGHT = 720, 360
LEFT, RIGHT, TOP, BOTTOM = 66, 700, 22, 296


@dataclass(frozen=True)
class SurvivalStep:
    """From so many hours on this share is still good, with its limits; it fell between `begins` and `hours`.

    Without `begins` it fell at `hours`.
    """

    hours: float
    share: float
    low: float
    high: float
    begins: float | None = None

    @property
    def falls_from(self) -> float:
        return self.hours if self.begins is None else self.begins


@dataclass(frozen=True)
class SurvivalCurve:
    """Everything the SVG needs, in drawing units."""

    key: str
    summary: str
    steps: str
    band: str
    fit: str
    crosses: tuple[tuple[float, float], ...]
    x_ticks: tuple[TickMark, ...]
    y_ticks: tuple[TickMark, ...]
    half_y: float
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM
    template: str = "plots/survival.svg"

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2

    @property
    def middle_y(self) -> float:
        return (self.top + self.bottom) / 2


def survival_curve(
    *,
    key: str,
    steps: Sequence[SurvivalStep],
    still_good_hours: Sequence[float],
    fit: Sequence[tuple[float, float]],
    until_hours: float,
    summary: str,
) -> SurvivalCurve:
    """Lay a survival curve out.

    Args:
        steps: in the order of their hours, the first after nought.
        still_good_hours: of the parts that were still good when last heard of.
        fit: hours and share along the fitted curve; empty without one.
        until_hours: the longest life seen; the curve ends there.
    """
    axis = axis_to(until_hours, zero=LEFT, far=RIGHT, wanted=7)
    whole = [SurvivalStep(0.0, 1.0, 1.0, 1.0), *steps]

    def y(share: float) -> float:
        return round(BOTTOM - share * (BOTTOM - TOP), 1)

    def stairs(shares: Sequence[float]) -> list[tuple[float, float]]:
        points = []
        ends = [step.falls_from for step in whole[1:]] + [until_hours]
        for step, share, end in zip(whole, shares, ends, strict=True):
            points += [(axis.place(step.hours), y(share)), (axis.place(end), y(share))]
        return points

    def share_at(hours: float) -> float:
        return next(step.share for step in reversed(whole) if step.hours <= hours)

    low, high = stairs([step.low for step in whole]), stairs([step.high for step in whole])
    return SurvivalCurve(
        key=key,
        summary=summary,
        steps=_points(stairs([step.share for step in whole])),
        band=_points([*low, *reversed(high)]),
        fit=_points([(axis.place(hours), y(share)) for hours, share in fit]),
        crosses=tuple((axis.place(hours), y(share_at(hours))) for hours in sorted(still_good_hours)),
        x_ticks=axis.marks(),
        y_ticks=tuple(TickMark(y(share / 100), f"{share} %") for share in (0, 25, 50, 75, 100)),
        half_y=y(0.5),
    )


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in points)
