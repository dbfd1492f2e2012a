"""Whether the suggested order of a search puts the cheapest first. Pure.

Cheapest with what has to be opened and closed again for a check counted, from the situation in which it is made: two
neighbours are equals where both can be made in either order, and what is harmless stands before what opens the unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from diagnosis.exploring import Broken
from diagnosis.fact_combinations import Combination
from diagnosis.layout_plans import ChecklistPlan
from diagnosis.opening_order import cost_of
from diagnosis.planning import causes_within_reach, plan_search, search_left
from diagnosis.unit_invariants import DEARER_FIRST
from diagnosis.unit_state import UnitState

_TIE = 1e-6


def dearer_first(plan: ChecklistPlan, steps: Sequence[Any], units: Sequence[Combination]) -> Iterator[Broken]:
    """What is dearer in a suggested order and stands first, on each kind of unit as it came in.

    Neighbours that could change places and save minutes, and what opens the unit before what is harmless and costs no
    more. `steps` are the plan's, as records have them. With the priors for beliefs, and the usual minutes.
    """
    seen: set[tuple[tuple[bool, ...], frozenset[str]]] = set()
    for unit in units:
        if (unit.applies, unit.parts) in seen:
            continue
        seen.add((unit.applies, unit.parts))
        reach = causes_within_reach(steps, unit.facts, {cause.key: cause.prior for cause in plan.causes})
        whole = sum(reach.values())
        beliefs = {cause: weight / whole for cause, weight in reach.items()}
        yield from _judged(steps, unit, beliefs)


def _judged(steps: Sequence[Any], unit: Combination, beliefs: dict[str, float]) -> Iterator[Broken]:
    minutes = {step.key: step.minutes for step in steps}
    at = UnitState.as_it_came(unit.facts)
    found = plan_search(steps, unit.facts, {}, beliefs=beliefs, minutes=minutes, predictions={}, unit=at)
    left = search_left(steps, unit.facts, {}, beliefs=beliefs, minutes=minutes, predictions={})
    if found is None or left is None:
        return
    asked, openings = left.asked(at)
    order = [key for key in found.suggested if key in found.shares]
    now = cost_of(order, asked, openings)
    if now is None:
        words = "what opens the unit stands before what is harmless and costs no more, or a check before what it needs"
        yield Broken(DEARER_FIRST, words, order[0], unit.facts)
        now = cost_of(order, asked, openings, harmless_first=False)
    for place in range(len(order) - 1 if now is not None else 0):
        other = cost_of([*order[:place], order[place + 1], order[place], *order[place + 2 :]], asked, openings)
        if now is not None and other is not None and other.minutes < now.minutes - _TIE:
            saved = now.minutes - other.minutes
            words = f"“{order[place + 1]}” before “{order[place]}” would save {saved:.2f} minutes on average"
            yield Broken(DEARER_FIRST, words, order[place], unit.facts)
