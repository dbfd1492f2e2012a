"""Slips that an editor of a checklist could make, each in a copy of a shipped one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from diagnosis.layout_plans import AnswerPlan, ChecklistPlan, StepPlan
from tests.shipped import shipped_folder

Change = Callable[[StepPlan], StepPlan]


def planted(key: str, changes: Mapping[str, Change | None]) -> ChecklistPlan:
    """The shipped list with these steps changed, or taken out."""
    plan = shipped_folder().checklist(key)
    assert changes.keys() <= {step.key for step in plan.steps}
    gone = {name for name, change in changes.items() if change is None}
    steps = [
        (change(step) if (change := changes.get(step.key)) else step) for step in plan.steps if step.key not in gone
    ]
    return replace(
        plan, steps=tuple(replace(step, needs=tuple(need for need in step.needs if need not in gone)) for step in steps)
    )


def requires_nothing(step: StepPlan) -> StepPlan:
    assert step.requires
    return replace(step, requires={})


def requires_not(*parts: str) -> Change:
    def change(step: StepPlan) -> StepPlan:
        assert step.requires.keys() >= set(parts)
        return replace(step, requires={part: words for part, words in step.requires.items() if part not in parts})

    return change


def requires_too(**wanted: str) -> Change:
    return lambda step: replace(step, requires={**step.requires, **{part: (word,) for part, word in wanted.items()}})


def leaves_nothing(step: StepPlan) -> StepPlan:
    assert any(answer.leaves for answer in step.answers.values())
    return replace(step, answers={given: replace(answer, leaves={}) for given, answer in step.answers.items()})


def leaves_too(outcome: str, **left: str) -> Change:
    def change(step: StepPlan) -> StepPlan:
        answer = step.answers.get(outcome, AnswerPlan())
        return replace(step, answers={**step.answers, outcome: replace(answer, leaves={**answer.leaves, **left})})

    return change


def opens_nothing(step: StepPlan) -> StepPlan:
    assert step.opens
    return replace(step, opens=())


def opens_too(*parts: str) -> Change:
    return lambda step: replace(step, opens=(*step.opens, *parts))


def proves_nothing(step: StepPlan) -> StepPlan:
    assert step.proves
    return replace(step, proves=())


def tightens_nothing(step: StepPlan) -> StepPlan:
    assert step.bolts
    return replace(step, bolts=())


def reads_nothing(step: StepPlan) -> StepPlan:
    assert step.readings
    return replace(step, readings=())


def needs_too(*keys: str) -> Change:
    return lambda step: replace(step, needs=(*step.needs, *keys))
