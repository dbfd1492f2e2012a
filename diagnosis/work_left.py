"""The steps that are left of a run, as the suggestions lead through them, for who reckons with their minutes. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnosis.layout import applies
from diagnosis.layout_plans import CHECK
from diagnosis.openings import PLAIN
from diagnosis.runs_rules import (
    FOUND,
    Facts,
    Outcomes,
    RunStep,
    needs_of,
    next_step,
    search_is_over,
    standing,
    without_idle_repairs,
)
from diagnosis.unit_state import UnitState, declares

_LONGEST = 150  # steps; the longest shipped list has some fifty


def steps_left(steps: Sequence[RunStep], facts: Facts, outcomes: Outcomes, unit: UnitState | None) -> list[RunStep]:
    """The steps still to do; one that has to be done twice is in it twice.

    While the search is on that is every step without an answer that still says what is so: what was opened again after
    it was closed is closed again. Once the cause is found it is what the suggestions come to from here: what mends it,
    what has to be opened for that, all that closes, and the proofs.

    Args:
        steps: the whole checklist in handbook order.
        outcomes: the answers that count, by step key, in the order in which they were given.
        unit: the unit as it is now; without it, and where no step says what it leaves, no answer is open again.
    """
    kept = without_idle_repairs([step for step in steps if applies(step, facts) != "no"], outcomes)
    if unit is None or not any(declares(step) for step in kept):
        found = FOUND in outcomes.values()
        return [step for step in kept if step.key not in outcomes and not (found and step.kind == CHECK)]
    stand = standing(kept, outcomes, unit)
    if not search_is_over(kept, stand):
        return [step for step in kept if step.key not in stand]
    return _suggested(kept, facts, needs_of(steps, facts), dict(outcomes), unit)


def _suggested(
    steps: Sequence[RunStep],
    facts: Facts,
    needs: Mapping[str, frozenset[str]],
    given: dict[str, str],
    unit: UnitState,
) -> list[RunStep]:
    by_key = {step.key: step for step in steps}
    found: list[RunStep] = []
    while len(found) < _LONGEST:
        coming = next_step(steps, facts, standing(steps, given, unit), needs=needs, unit=unit)
        if coming is None:
            break
        step = by_key[coming.key]
        found.append(step)
        given.pop(step.key, None)
        given[step.key] = PLAIN[step.kind]
        unit = unit.after(step, PLAIN[step.kind])
    return found
