"""O-rings: standard sizes near a measured one, and how a ring sits in its gland. Millimetres, as the standard has."""

import csv
import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Literal

from specs.physics.errors import ImpossibleValue, require_positive

Motion = Literal["static", "dynamic"]

# Shares; handbook values that vendors differ on. Common practice where the standard leaves it to the designer.
SQUEEZE: dict[Motion, tuple[float, float]] = {"static": (0.10, 0.40), "dynamic": (0.12, 0.18)}
STRETCH = (0.01, 0.05)  # 1 to 3 % is usual, 5 % the most
GLAND_FILL = (0.65, 0.85)


@dataclass(frozen=True)
class SealSize:
    """A size of AS568 / ISO 3601-1. `size_confirmed` is whether a published table was seen; tolerances were not."""

    code: str
    inside_mm: float
    inside_tolerance_mm: float
    section_mm: float
    section_tolerance_mm: float
    size_confirmed: bool

    @property
    def outside_mm(self) -> float:
        """Outside diameter as moulded."""
        return self.inside_mm + 2 * self.section_mm


@dataclass(frozen=True)
class GlandFit:
    """How a ring sits: shares (0.15 is 15 %), and what is outside the usual limits, in words."""

    squeeze: float
    stretch: float
    fill: float
    doubts: tuple[str, ...]


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
            size_confirmed=row["size_confirmed"] == "yes",
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


def inside_tolerance_class_b(inside_mm: float) -> float:
    """Inside tolerance (± mm) of ISO 3601-1 class B: 0.009 d^0.95 + 0.11, within 0.005 of the printed values."""
    require_positive("inside_mm", inside_mm)
    return float(0.009 * inside_mm**0.95 + 0.11)


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


def gland_fit(
    inside_mm: float,
    section_mm: float,
    *,
    groove_diameter_mm: float,
    gland_depth_mm: float,
    gland_width_mm: float,
    motion: Motion = "static",
) -> GlandFit:
    """How a ring would sit on a piston groove, its section thinned by the stretch, and what looks wrong."""
    stretched = stretch(inside_mm, groove_diameter_mm)
    thinned_mm = section_when_stretched(section_mm, stretched)
    squeezed = squeeze(thinned_mm, gland_depth_mm)
    filled = gland_fill(thinned_mm, gland_depth_mm, gland_width_mm)
    checks = (
        ("squeeze", squeezed, SQUEEZE[motion]),
        ("stretch", stretched, STRETCH),
        ("gland fill", filled, GLAND_FILL),
    )
    doubts = tuple(
        f"{name} {value:.1%} is outside the usual {low:.0%} to {high:.0%}"
        for name, value, (low, high) in checks
        if not low <= value <= high
    )
    return GlandFit(squeezed, stretched, filled, doubts)
