"""O-rings: standard sizes near a measured one, and how a ring sits in its gland. Millimetres, as the standard has."""

import csv
import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Literal

from specs.physics.errors import ImpossibleValue, require_positive

Motion = Literal["static", "dynamic"]
Gland = Literal["piston", "rod"]

# Shares of squeeze by section (mm), ring and gland at their worst tolerances, sealing radially: the tables
# of dynamic and of static glands in the public guide "Seal Types and Gland Design", which prints piston and rod alike.
_SQUEEZE: dict[Motion, dict[float, tuple[float, float]]] = {
    "dynamic": {1.78: (0.15, 0.25), 2.62: (0.10, 0.18), 3.53: (0.09, 0.17), 5.33: (0.085, 0.15), 6.99: (0.105, 0.17)},
    "static": {1.78: (0.18, 0.32), 2.62: (0.14, 0.25), 3.53: (0.14, 0.23), 5.33: (0.14, 0.21), 6.99: (0.13, 0.20)},
}
# Not verified against a source: squeeze of other sections, the ring's stretch on a piston, how far its outside may be
# pressed together in a rod gland, and how full a gland is.
SQUEEZE_FROM_MEMORY: dict[Motion, tuple[float, float]] = {"static": (0.10, 0.40), "dynamic": (0.12, 0.18)}
STRETCH = (0.01, 0.05)  # 1 to 3 % is usual, 5 % the most
PRESSED_TOGETHER = (-0.05, 0.0)
GLAND_FILL = (0.65, 0.85)
SAME_SECTION_MM = 0.1  # the widest tolerance of a section that the guide prints, rounded up: 6.99 mm has 0.15
# How far from a measured ring a size may be and still be shown beside it; common practice, no published source.
NEAR_INSIDE, NEAR_SECTION = 0.05, 0.10


@dataclass(frozen=True)
class SqueezeLimits:
    """Least and most usual squeeze, as shares, and whether the guide prints them for this section."""

    low: float
    high: float
    published: bool

    def holds(self, share: float) -> bool:
        """Whether a squeeze is as usual."""
        return self.low <= share <= self.high


@dataclass(frozen=True)
class SealSize:
    """A size of AS568 / ISO 3601-1 with its tolerances, from a published table of inches times 25.4."""

    code: str
    inside_mm: float
    inside_tolerance_mm: float
    section_mm: float
    section_tolerance_mm: float

    def takes(self, inside_mm: float, section_mm: float) -> bool:
        """Whether a ring so measured is within both tolerances."""
        return (
            abs(self.inside_mm - inside_mm) <= self.inside_tolerance_mm + 1e-9
            and abs(self.section_mm - section_mm) <= self.section_tolerance_mm + 1e-9
        )


@lru_cache(maxsize=1)
def seal_sizes() -> tuple[SealSize, ...]:
    """The shipped sizes, by section and then inside diameter."""
    table = files("specs.physics").joinpath("seal_sizes.csv").read_text(encoding="utf-8")
    return tuple(
        SealSize(
            code=row["code"],
            inside_mm=float(row["inside_mm"]),
            inside_tolerance_mm=float(row["inside_tolerance_mm"]),
            section_mm=float(row["section_mm"]),
            section_tolerance_mm=float(row["section_tolerance_mm"]),
        )
        for row in csv.DictReader(table.splitlines())
    )


def nearest_sizes(inside_mm: float, section_mm: float, count: int = 3) -> list[SealSize]:
    """The standard sizes nearest to a measured ring, nearest first.

    Nearness adds the relative misses of section and of inside diameter, so a wrong section weighs as it should.
    A used ring has flattened and grown: measure it clean and unstretched.
    """
    require_positive("inside_mm", inside_mm)
    require_positive("section_mm", section_mm)
    require_positive("count", count)

    def miss(size: SealSize) -> float:
        return abs(size.section_mm / section_mm - 1) + abs(size.inside_mm / inside_mm - 1)

    return sorted(seal_sizes(), key=miss)[:count]


def size_of(inside_mm: float, section_mm: float) -> SealSize | None:
    """The size within whose tolerances a measured ring is, the nearest where there are two; None: not in the table."""
    return next((size for size in nearest_sizes(inside_mm, section_mm) if size.takes(inside_mm, section_mm)), None)


def neighbours(inside_mm: float, section_mm: float, count: int = 4) -> list[SealSize]:
    """Sizes near enough to a measured ring to be compared with it, nearest first; none where all are far."""
    return [
        size
        for size in nearest_sizes(inside_mm, section_mm, count)
        if abs(size.inside_mm / inside_mm - 1) <= NEAR_INSIDE and abs(size.section_mm / section_mm - 1) <= NEAR_SECTION
    ]


def squeeze_limits(section_mm: float, motion: Motion) -> SqueezeLimits:
    """The usual squeeze of a section: the guide's where it prints it, else from memory (`published` is False)."""
    require_positive("section_mm", section_mm)
    printed = min(_SQUEEZE[motion], key=lambda one: abs(one - section_mm))
    if abs(printed - section_mm) <= SAME_SECTION_MM:
        return SqueezeLimits(*_SQUEEZE[motion][printed], published=True)
    return SqueezeLimits(*SQUEEZE_FROM_MEMORY[motion], published=False)


def squeeze(section_mm: float, gland_depth_mm: float) -> float:
    """Share of its section that the gland takes from a ring; below zero it does not touch."""
    require_positive("section_mm", section_mm)
    require_positive("gland_depth_mm", gland_depth_mm)
    return 1 - gland_depth_mm / section_mm


def stretch(inside_mm: float, groove_diameter_mm: float) -> float:
    """Share by which the groove's floor stretches the inside diameter; below zero the ring is loose."""
    require_positive("inside_mm", inside_mm)
    require_positive("groove_diameter_mm", groove_diameter_mm)
    return groove_diameter_mm / inside_mm - 1


def section_when_stretched(section_mm: float, stretch_share: float) -> float:
    """Section after a stretch, from constant volume: section / sqrt(1 + stretch)."""
    require_positive("section_mm", section_mm)
    if stretch_share <= -1.0:
        raise ImpossibleValue("stretch_share", "a ring cannot shrink to nothing")
    return section_mm / math.sqrt(1 + stretch_share)


def gland_fill(section_mm: float, gland_depth_mm: float, gland_width_mm: float) -> float:
    """Share of the gland's section that the ring fills; above 1 it cannot be closed."""
    require_positive("section_mm", section_mm)
    require_positive("gland_depth_mm", gland_depth_mm)
    require_positive("gland_width_mm", gland_width_mm)
    return math.pi / 4 * section_mm**2 / (gland_depth_mm * gland_width_mm)


def pressed_together(inside_mm: float, section_mm: float, groove_diameter_mm: float) -> float:
    """Share by which the floor of a rod gland changes the ring's outside: below zero pressed together, above loose."""
    require_positive("inside_mm", inside_mm)
    require_positive("section_mm", section_mm)
    require_positive("groove_diameter_mm", groove_diameter_mm)
    return groove_diameter_mm / (inside_mm + 2 * section_mm) - 1


def floor_check(changed: float, gland: Gland) -> tuple[str, float, tuple[float, float]]:
    """What the groove's floor does to the ring: its name, the share, and what is usual of it."""
    if gland == "piston":
        return "stretch", changed, STRETCH
    return f"outside, {'loose in the groove' if changed > 0 else 'pressed together'},", changed, PRESSED_TOGETHER
