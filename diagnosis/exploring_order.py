"""Whether the suggested order of a search puts the cheapest first. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from diagnosis.exploring import Broken
from diagnosis.fact_combinations import Combination
from diagnosis.layout_plans import ChecklistPlan
from diagnosis.ordering import OrderStep, expected_minutes, keeps_prerequisites, with_pinned
from diagnosis.planning import causes_within_reach, plan_search
from diagnosis.runs_rules import can_end_search, needs_of
from diagnosis.unit_invariants import DEARER_FIRST

_TIE = 1e-6


def dearer_first(plan: ChecklistPlan, steps: Sequence[Any], units: Sequence[Combination]) -> Iterator[Broken]:
    """Neighbours in a suggested order that could change places and save minutes, on each kind of unit.

    `steps` are the plan's, as records have them. With the priors for beliefs, the usual minutes, and nothing answered.
    """
    seen: set[tuple[bool, ...]] = set()
    for unit in units:
        if unit.applies in seen:
            continue
        seen.add(unit.applies)
        reach = causes_within_reach(steps, unit.facts, {cause.key: cause.prior for cause in plan.causes})
        whole = sum(reach.values())
        beliefs = {cause: weight / whole for cause, weight in reach.items()}
        minutes = {step.key: step.minutes for step in steps}
        found = plan_search(steps, unit.facts, {}, beliefs=beliefs, minutes=minutes, predictions={})
        if found is not None:
            yield from _neighbours(steps, unit, beliefs, found.suggested)


def _neighbours(
    steps: Sequence[Any], unit: Combination, beliefs: dict[str, float], order: Sequence[str]
) -> Iterator[Broken]:
    here = [step for step in steps if step.key in order]
    needs = needs_of(steps, unit.facts)
    plain = [OrderStep(step.key, step.minutes, needs[step.key] & set(order), _chances(step, beliefs)) for step in here]
    held = with_pinned(plain, [step.key for step in here if step.safety])
    now = expected_minutes(order, plain, beliefs)
    for place in range(len(order) - 1):
        other = [*order[:place], order[place + 1], order[place], *order[place + 2 :]]
        if keeps_prerequisites(other, held) and expected_minutes(other, plain, beliefs) < now - _TIE:
            saved = now - expected_minutes(other, plain, beliefs)
            words = f"“{order[place + 1]}” before “{order[place]}” would save {saved:.2f} minutes on average"
            yield Broken(DEARER_FIRST, words, order[place], unit.facts)


def _chances(step: Any, beliefs: dict[str, float]) -> dict[str, float]:
    if not can_end_search(step):
        return {}
    return {cause: chance for cause, chance in step.ends_search.items() if cause in beliefs}
