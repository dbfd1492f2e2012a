"""Service levels: what a level takes in, and whether the steps of a checklist that are part of one were done.

What takes in what is common practice, no published source. The counter can correct what the steps say.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Protocol

from diagnosis.layout import applies
from diagnosis.layout_facts import AdaptableStep
from diagnosis.runs_rules import Facts
from specs.models import ServiceKit

Level = ServiceKit.Level


class PartOfService(AdaptableStep, Protocol):
    """A step as it says which services it is part of, and on which units it is done."""

    @property
    def key(self) -> str: ...
    @property
    def services(self) -> Collection[str]: ...


# A larger service takes in the smaller ones: to reach the spring or the damper the lowers come off anyway.
TAKES_IN: Mapping[str, tuple[str, ...]] = {
    Level.LOWERS: (Level.LOWERS,),
    Level.SPRING: (Level.SPRING, Level.LOWERS),
    Level.FULL: (Level.FULL, Level.SPRING, Level.LOWERS),
}


def levels_done(steps: Iterable[PartOfService], facts: Facts, done: Collection[str]) -> tuple[str, ...]:
    """The levels that the work done in one run makes up, the smallest first.

    A level is done when every step of the checklist that is part of it, and applies to the unit, is done.

    Args:
        steps: every step of the run's checklist.
        facts: the unit's facts when the run began.
        done: keys of its steps whose outcome that counts is “done”.
    """
    wanted: dict[str, set[str]] = {}
    for step in steps:
        if applies(step, facts) != "no":
            for level in step.services:
                wanted.setdefault(level, set()).add(step.key)
    return tuple(level for level in Level.values if level in wanted and wanted[level] <= set(done))


def levels_covering(level: str) -> tuple[str, ...]:
    """The levels whose service also counts as one of `level`."""
    return tuple(larger for larger, parts in TAKES_IN.items() if level in parts)
