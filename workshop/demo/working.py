"""The order in which the demo's mechanics work through a checklist: the handbook's, as far as the unit's state lets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from diagnosis.layout import applies
from diagnosis.layout_facts import Facts
from diagnosis.models import Step
from diagnosis.runs_rules import first_before, standing
from diagnosis.unit_state import UnitState


def worked_through(
    steps: Sequence[Step], wanted: Iterable[Step], facts: Facts, answer: Callable[[Step], str]
) -> Iterator[tuple[Step, str]]:
    """Each wanted step with its answer; what brings about the state that it requires comes before, again if need be."""
    kept = [step for step in steps if applies(step, facts) != "no"]
    unit, outcomes = UnitState.as_it_came(facts), dict[str, str]()
    for goal in wanted:
        step = None
        while step is not goal:
            first = first_before(goal, kept, {}, standing(kept, outcomes, unit), unit)
            step = goal if first is None else next(one for one in kept if one.key == first.step.key)
            outcome = answer(step)
            yield step, outcome
            outcomes.pop(step.key, None)
            outcomes[step.key] = outcome
            unit = unit.after(step, outcome)
