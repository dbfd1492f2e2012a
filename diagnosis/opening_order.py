"""The order of checks that costs least where they ask the unit to be open or closed. Pure.

As in diagnosis.ordering one cause is at work, and the search ends at the check that finds it. What has to be brought
about before a check costs its minutes from the situation in which it is made, and what is open in the end is closed
again: with ``w`` the chance that the search is still on, ``t`` the minutes of a check with its way and ``C`` those of
closing what is open,

    sum((w before) * t + (w before - w after) * C after) + (w at the end) * C at the end
    = C now + sum((w before) * (t + C after - C before)):

opening costs its minutes and those of closing again once, whoever uses it while it is open. What is
harmless and costs no more stands before what opens the unit, even where the other way round would save: see
`is_harmless_first`. The order that costs least is looked for in diagnosis.opening_search.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnosis.openings import Openings, Way
from diagnosis.order_search import Floats


@dataclass(frozen=True)
class Asked:
    """Checks in handbook order, the chance that each misses each cause (checks, causes), and the beliefs (causes,)."""

    checks: Sequence[str]
    misses: Floats
    beliefs: Floats


@dataclass(frozen=True)
class Ordered:
    """Checks in an order with their ways, and its expected minutes; `is_exact` where no order costs less."""

    ways: tuple[Way, ...]
    minutes: float
    is_exact: bool = False

    @property
    def checks(self) -> tuple[str, ...]:
        return tuple(way.steps[-1] for way in self.ways)


def is_harmless_first(at: int, way: Way, made: Collection[str], asked: Asked, openings: Openings) -> bool:
    """Whether nothing on the way opens the unit while a check that opens nothing and costs no more could be made."""
    if not way.opens:
        return True
    costs = openings.costs(at, way)
    for check in asked.checks:
        other = openings.way(at, check) if check not in made else None
        if other is None or other.opens or not other.waits_for <= set(made):
            continue
        if openings.costs(at, other) <= costs:
            return False
    return True


def cost_of(order: Sequence[str], asked: Asked, openings: Openings, *, harmless_first: bool = True) -> Ordered | None:
    """The order with its ways; None where a check waits for one that comes later, or cannot be made there.

    The order may leave checks out. `harmless_first` is not asked of the handbook, which is taken as it stands.
    """
    place = {check: number for number, check in enumerate(asked.checks)}
    at, left, minutes = 0, asked.beliefs.copy(), openings.closing(0) * float(asked.beliefs.sum())
    made: set[str] = set()
    ways = []
    for check in order:
        way = openings.way(at, check)
        if way is None or not way.waits_for <= made:
            return None
        if harmless_first and not is_harmless_first(at, way, made, asked, openings):
            return None
        minutes += float(left.sum()) * openings.costs(at, way)
        left = left * asked.misses[place[check]]
        made.add(check)
        ways.append(way)
        at = way.ends
    return Ordered(tuple(ways), minutes)


def lawful_handbook_order(asked: Asked, openings: Openings) -> Ordered:
    """The checks as listed, each held back until it can be made; those for which the unit is never right left out."""
    return _one_by_one(asked, openings, lambda at, ways, left: next(iter(ways)), harmless_first=False)


def greedy_order(asked: Asked, openings: Openings) -> Ordered:
    """Again and again the check that ends most searches for each minute, what it opens and closes again counted."""
    place = {check: number for number, check in enumerate(asked.checks)}

    def best(at: int, ways: Mapping[str, Way], left: Floats) -> str:
        ended = {check: float(left @ (1.0 - asked.misses[place[check]])) for check in ways}
        return max(ways, key=lambda check: ended[check] / max(openings.costs(at, ways[check]), 1e-9))

    return _one_by_one(asked, openings, best, harmless_first=True)


def _one_by_one(
    asked: Asked,
    openings: Openings,
    choose: Callable[[int, Mapping[str, Way], Floats], str],
    *,
    harmless_first: bool,
) -> Ordered:
    place = {check: number for number, check in enumerate(asked.checks)}
    at, left, order = 0, asked.beliefs.copy(), list[str]()
    while True:
        ways = {}
        for check in asked.checks:
            way = openings.way(at, check) if check not in order else None
            if way is None or not way.waits_for <= set(order):
                continue
            if not harmless_first or is_harmless_first(at, way, order, asked, openings):
                ways[check] = way
        if not ways:
            break
        check = choose(at, ways, left)
        order.append(check)
        left = left * asked.misses[place[check]]
        at = ways[check].ends
    return known_order(cost_of(order, asked, openings, harmless_first=harmless_first))


def known_order(found: Ordered | None) -> Ordered:
    """An order that is known to be possible."""
    if found is None:
        raise ValueError("the order breaks what it was made to keep")
    return found


def asked_of(checks: Sequence[str], chances: Mapping[str, Mapping[str, float]], beliefs: Mapping[str, float]) -> Asked:
    """The checks with their chances by cause, as arrays."""
    misses = [[1.0 - chances[check].get(cause, 0.0) for cause in beliefs] for check in checks]
    return Asked(
        list(checks),
        np.array(misses, dtype=np.float64).reshape(len(checks), len(beliefs)),
        np.array(list(beliefs.values()), dtype=np.float64),
    )
