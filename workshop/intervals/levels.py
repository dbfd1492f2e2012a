"""Service levels: what a level takes in, and which steps of a checklist tell that it was done.

Both are common practice, no published source. The counter can correct what the steps say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from specs.models import ServiceKit

Level = ServiceKit.Level

# A larger service takes in the smaller ones: to reach the spring or the damper the lowers come off anyway.
TAKES_IN: Mapping[str, tuple[str, ...]] = {
    Level.LOWERS: (Level.LOWERS,),
    Level.SPRING: (Level.SPRING, Level.LOWERS),
    Level.FULL: (Level.FULL, Level.SPRING, Level.LOWERS),
}

# The work steps that together make a level; any one set is enough. A fork's first, a shock's after it.
_TELLING_STEPS: Mapping[str, tuple[frozenset[str], ...]] = {
    Level.LOWERS: (frozenset({"lowers-off", "oil-in-legs"}),),
    Level.SPRING: (
        frozenset({"air-spring-out", "grease-spring", "air-spring-in"}),
        frozenset({"shock-can-off", "shock-new-can-seals", "shock-can-on"}),
    ),
    Level.FULL: (frozenset({"rebuild-damper", "lowers-off", "oil-in-legs"}),),
}

# Checklists that are no work on a level whatever was ticked in them.
_NEVER: Mapping[str, tuple[str, ...]] = {
    "routine-lowers-service": (Level.SPRING, Level.FULL),
    "shock-air-can-service": (Level.FULL,),
}


def levels_done(checklist_key: str, steps_done: Iterable[str]) -> tuple[str, ...]:
    """The levels that the work steps done in one run make up, the smallest first.

    Args:
        checklist_key: the key of the run's checklist.
        steps_done: keys of its steps whose outcome that counts is “done”.
    """
    done = frozenset(steps_done)
    never = _NEVER.get(checklist_key, ())
    return tuple(
        level for level, ways in _TELLING_STEPS.items() if level not in never and any(way <= done for way in ways)
    )


def telling_steps(level: str) -> frozenset[str]:
    """The steps that may tell of a level, of every way to do it."""
    return frozenset().union(*_TELLING_STEPS[level])


def levels_covering(level: str) -> tuple[str, ...]:
    """The levels whose service also counts as one of `level`."""
    return tuple(larger for larger, parts in TAKES_IN.items() if level in parts)
