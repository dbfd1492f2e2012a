"""Small wrong edits to what computes (`edits.txt`), and which checks ought to notice them.

Each is a slip that a person could make: an area, a sign, gauge for absolute, sine for cosine, an exponent, a typo in a
table, a factor, a place. `CHECKS` names the checks from outside that ought to notice, then those of the house.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

AIR = "specs/physics/air_spring/"
PUBLISHED = "tests/published/"
PURE = "tests/diagnosis_pure/"


class Planted(NamedTuple):
    """One wrong edit: `old` stands once in `path`, `new` takes its place."""

    path: str
    old: str
    new: str


class Checks(NamedTuple):
    """Where the edits of one computation should be noticed."""

    outside: tuple[str, ...]
    house: tuple[str, ...]


_SPRING = (
    PUBLISHED + "test_air_spring_free_body.py",
    PUBLISHED + "test_air_spring_by_integration.py",
    PUBLISHED + "test_air_as_ideal_gas.py",
)
_HOUSE = ("force", "geometry", "inference", "recovery", "rest", "sag", "stuck", "filling", "lower_legs")
CHECKS: dict[str, Checks] = {
    AIR: Checks(_SPRING, tuple(f"tests/physics/test_air_spring_{part}.py" for part in _HOUSE)),
    AIR + "fit.py": Checks((PUBLISHED + "test_geometry_fit.py",), ("tests/physics/test_air_spring_fit.py",)),
    "specs/physics/oil.py": Checks((PUBLISHED + "test_oil.py",), ("tests/physics/test_oil.py",)),
    "workshop/sums/oils.py": Checks((PUBLISHED + "test_oil.py",), ("tests/physics/test_oil.py",)),
    "specs/physics/viscosity_index_basis.csv": Checks((PUBLISHED + "test_oil.py",), ("tests/physics/test_oil.py",)),
    "specs/physics/measured_fork.py": Checks(
        (PUBLISHED + "test_measured_fork.py",), ("tests/physics/test_measured_fork.py",)
    ),
    "specs/physics/seals.py": Checks((PUBLISHED + "test_orings.py",), ("tests/physics/test_seals.py",)),
    "specs/physics/seal_sizes.csv": Checks((PUBLISHED + "test_orings.py",), ("tests/physics/test_seals.py",)),
    "specs/physics/torque.py": Checks((PUBLISHED + "test_bolts_and_wrenches.py",), ("tests/physics/test_torque.py",)),
    "specs/physics/pressure.py": Checks((PUBLISHED + "test_gauge_pressures.py",), ("tests/physics/test_pressure.py",)),
    "specs/physics/atmosphere.py": Checks((PUBLISHED + "test_atmosphere.py",), ("tests/physics/test_atmosphere.py",)),
    **dict.fromkeys(
        ("specs/physics/air_can.py", "specs/physics/coil.py", "specs/physics/leverage.py"),
        Checks((PUBLISHED + "test_shocks_and_coils.py",), ()),
    ),
    "specs/units.py": Checks((PUBLISHED + "test_conversion_factors.py",), ()),
    "diagnosis/ordering.py": Checks(
        (PURE + "test_ordering_published.py", PURE + "test_ordering_brute_force.py"),
        (PURE + "test_ordering_pinned.py",),
    ),
    "diagnosis/order_search.py": Checks(
        (PURE + "test_ordering_published.py", PURE + "test_ordering_brute_force.py"),
        (PURE + "test_ordering_long_lists.py",),
    ),
    "diagnosis/beliefs.py": Checks(
        (PURE + "test_beliefs_intervals.py", PUBLISHED + "test_beliefs.py"),
        (PURE + "test_beliefs_causes.py", PURE + "test_beliefs_step_minutes.py"),
    ),
    "diagnosis/unseen.py": Checks((PURE + "test_learned_search.py",), ()),
    "workshop/office/figures/survival.py": Checks((PUBLISHED + "test_survival.py",), ()),
    "workshop/office/figures/quantiles.py": Checks((PUBLISHED + "test_percentiles.py",), ()),
    "workshop/intervals/gpx.py": Checks((PUBLISHED + "test_gpx.py",), ()),
    "workshop/intervals/forecast.py": Checks((PUBLISHED + "test_months.py",), ()),
}


def checks_of(path: str) -> Checks:
    """The checks of a file: its own, else those of its folder."""
    return CHECKS.get(path) or CHECKS[path[: path.rindex("/") + 1]]


def _read() -> Iterator[Planted]:
    path = old = ""
    for line in (Path(__file__).parent / "edits.txt").read_text(encoding="utf-8").splitlines():
        kind, text = line[:2], line[2:].replace("\\n", "\n")
        if kind == "@ ":
            path = text
        elif kind == "- ":
            old = text
        elif kind == "+ ":
            yield Planted(path, old, text)


PLANTED = tuple(_read())
