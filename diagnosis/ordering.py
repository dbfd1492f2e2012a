"""The order of diagnosis steps that costs the fewest minutes on average.

One cause is at work, with the chance ``beliefs[cause]``; step ``s`` ends the search with the chance
``s.ends_search[cause]`` when that cause is at work, else the next step follows. The expected minutes of an
order are the sum over its steps of ``minutes * chance that the search is still on when the step starts``.
When steps settle separate causes and need nothing first, the best order is that of decreasing chance for
each minute (Kadane and Simon 1977; Heckerman, Breese and Rommelse 1995); otherwise that rule can fail, and
``diagnosis.order_search`` looks for the best order itself.

Everything here is pure. ``ValueError`` names the offending key: a step listed twice, an unknown step in an
order or in ``needs``, a cycle, minutes that are negative or not finite, a cause without a belief, a chance
outside 0..1, beliefs that do not sum to 1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter

import numpy as np

from diagnosis.order_search import OrderProblem, best_sequence, handbook_sequence

SUM_TOLERANCE = 1e-6  # beliefs typed by hand or rounded for storage


@dataclass(frozen=True)
class SearchStep:
    """A step as the order sees it; ``ends_search`` maps a cause to the chance of ending the search."""

    key: str
    minutes: float
    needs: frozenset[str]
    ends_search: Mapping[str, float]


def expected_minutes(order: Sequence[str], steps: Sequence[SearchStep], beliefs: Mapping[str, float]) -> float:
    """Minutes that doing ``order`` costs on average, stopping at the step that ends the search.

    ``order`` may leave steps out: the first steps of an order have a cost of their own. It is costed as it
    stands, without asking whether prerequisites come first.
    """
    problem = order_problem(steps, beliefs)
    return problem.cost(_indices(order, steps))


def best_order(
    steps: Sequence[SearchStep], beliefs: Mapping[str, float], *, pinned: Iterable[str] = ()
) -> tuple[str, ...]:
    """All the steps in the order of fewest expected minutes, every step after what it needs.

    ``steps`` stand in handbook order, which wins ties. ``pinned`` names safety steps, see ``with_pinned``.
    Exact for up to 16 steps, and beyond while prerequisites keep the number of reachable sets of steps within
    65,536; longer lists get a good order that never costs more than the handbook's.
    """
    problem = order_problem(with_pinned(steps, pinned), beliefs)
    return tuple(steps[index].key for index in best_sequence(problem))


def handbook_order(steps: Sequence[SearchStep], *, pinned: Iterable[str] = ()) -> tuple[str, ...]:
    """The steps as listed; one that stands before its own prerequisites is held back until they are done."""
    held = with_pinned(steps, pinned)
    check_steps(held)
    return tuple(steps[index].key for index in handbook_sequence(_needs(held)))


def with_pinned(steps: Sequence[SearchStep], pinned: Iterable[str]) -> tuple[SearchStep, ...]:
    """The same steps with safety steps held in place: no step that follows one may be moved before it.

    Each step after a pinned step gets it as one more prerequisite. Steps before it may still move behind it.
    Raises ``ValueError`` for a pinned key that is not a step. A pinned step that needs a later one is a
    cycle, reported where the order is made.
    """
    wanted = set(pinned)
    for key in sorted(wanted - {step.key for step in steps}):
        raise ValueError(f"pinned step '{key}' is not one of the steps")
    held: list[SearchStep] = []
    passed: frozenset[str] = frozenset()
    for step in steps:
        held.append(replace(step, needs=step.needs | passed) if passed else step)
        if step.key in wanted:
            passed |= {step.key}
    return tuple(held)


def remaining_steps(steps: Sequence[SearchStep], done: Iterable[str]) -> tuple[SearchStep, ...]:
    """The steps not yet done, in handbook order, with the prerequisites that are done taken away."""
    gone = frozenset(done)
    for key in sorted(gone - {step.key for step in steps}):
        raise ValueError(f"done step '{key}' is not one of the steps")
    return tuple(replace(step, needs=step.needs - gone) for step in steps if step.key not in gone)


def check_beliefs(beliefs: Mapping[str, float]) -> None:
    """Raise ``ValueError`` unless each belief is within 0..1 and together they make 1."""
    for cause, belief in beliefs.items():
        if not 0.0 <= belief <= 1.0:
            raise ValueError(f"the belief in cause '{cause}' is {belief}, outside 0..1")
    total = math.fsum(beliefs.values())
    if abs(total - 1.0) > SUM_TOLERANCE:
        named = ", ".join(f"'{cause}'" for cause in beliefs) or "no cause"
        raise ValueError(f"the beliefs in {named} sum to {total:.9g}, not 1")


def check_steps(steps: Sequence[SearchStep]) -> None:
    """Raise ``ValueError`` for a repeated or unknown key, bad minutes, a bad chance or a cycle."""
    keys: set[str] = set()
    for step in steps:
        if step.key in keys:
            raise ValueError(f"step '{step.key}' is listed twice")
        keys.add(step.key)
        if not (math.isfinite(step.minutes) and step.minutes >= 0.0):
            raise ValueError(f"step '{step.key}' takes {step.minutes} minutes; give a number from 0 up")
        for cause, chance in step.ends_search.items():
            if not 0.0 <= chance <= 1.0:
                raise ValueError(f"step '{step.key}' ends the search for '{cause}' with {chance}, outside 0..1")
    for step in steps:
        for need in sorted(step.needs - keys):
            raise ValueError(f"step '{step.key}' needs '{need}', which is not one of the steps")
    try:
        TopologicalSorter({step.key: sorted(step.needs) for step in steps}).prepare()
    except CycleError as error:
        path = " before ".join(f"'{key}'" for key in error.args[1])
        raise ValueError(f"the steps need each other in a cycle: {path}") from error


def order_problem(steps: Sequence[SearchStep], beliefs: Mapping[str, float]) -> OrderProblem:
    """The same question as arrays, steps and causes in the order given, once everything is checked."""
    check_beliefs(beliefs)
    check_steps(steps)
    for step in steps:
        for cause in step.ends_search:
            if cause not in beliefs:
                raise ValueError(f"step '{step.key}' ends the search for '{cause}', which has no belief")
    misses = [[1.0 - step.ends_search.get(cause, 0.0) for cause in beliefs] for step in steps]
    return OrderProblem(
        minutes=np.array([step.minutes for step in steps], dtype=np.float64),
        misses=np.array(misses, dtype=np.float64).reshape(len(steps), len(beliefs)),
        beliefs=np.array(list(beliefs.values()), dtype=np.float64),
        needs=_needs(steps),
    )


def _needs(steps: Sequence[SearchStep]) -> list[frozenset[int]]:
    place = {step.key: index for index, step in enumerate(steps)}
    return [frozenset(place[need] for need in step.needs) for step in steps]


def _indices(order: Sequence[str], steps: Sequence[SearchStep]) -> list[int]:
    place = {step.key: index for index, step in enumerate(steps)}
    seen: set[str] = set()
    for key in order:
        if key not in place:
            raise ValueError(f"the order names '{key}', which is not one of the steps")
        if key in seen:
            raise ValueError(f"the order names '{key}' twice")
        seen.add(key)
    return [place[key] for key in order]
