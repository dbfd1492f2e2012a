"""What a change of a step means for the other checklists that have the same step. Pure.

An equal key is the same step, done once a job. So a change of it is carried into every list that has it, but for what
is a list's own: what comes first there, what it can find and what follows from that. A list that says otherwise at
that place keeps what it says, and that is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from diagnosis.comparing import Comparison, compare
from diagnosis.layout_plans import AnswerPlan, CautionPlan, ChecklistPlan, StepPlan

OF_THE_LIST = frozenset(
    {"key", "kind", "needs", "ends_search", "services", "closed_by", "replaces", "shared", "answers"}
)
"""Fields of a step that are not carried over: a list's own, or what makes it this step; answers go one by one."""
ANSWER_OF_THE_LIST = frozenset({"cause", "next", "finding", "repair"})
"""Fields of an answer that name causes and steps of one list."""

_CARRIED = tuple(item.name for item in fields(StepPlan) if item.name not in OF_THE_LIST)
_ANSWER_CARRIED = tuple(item.name for item in fields(AnswerPlan) if item.name not in ANSWER_OF_THE_LIST)


@dataclass(frozen=True)
class CarriedOver:
    """Another list with the change in it: as it becomes, what that changes, and where it keeps its own words."""

    plan: ChecklistPlan
    changes: Comparison
    left: Comparison

    @property
    def is_touched(self) -> bool:
        """Whether it has a step that changes, even where it keeps its own words."""
        return bool(self.changes or self.left)


def changed_steps(before: ChecklistPlan, after: ChecklistPlan) -> dict[str, tuple[StepPlan, StepPlan]]:
    """Steps of both that say otherwise now in what all lists share, by key: as they were and as they are."""
    old = {step.key: step for step in before.steps}
    return {
        step.key: (old[step.key], step)
        for step in after.steps
        if step.key in old and _shared_part(old[step.key]) != _shared_part(step)
    }


def change_carried_over(changed: Mapping[str, tuple[StepPlan, StepPlan]], other: ChecklistPlan) -> CarriedOver:
    """The other list with the change of these steps in it."""
    own_cautions = {caution.key: caution for step in other.steps for caution in step.cautions}
    steps, forced = [], []
    for step in other.steps:
        if step.key not in changed or changed[step.key][0].kind != step.kind:
            steps.append(step)
            forced.append(step)
            continue
        was, now = changed[step.key]
        steps.append(_step(step, was, now, own_cautions, force=False))
        forced.append(_step(step, was, now, own_cautions, force=True))
    plan = replace(other, steps=tuple(steps))
    return CarriedOver(plan, compare(other, plan), compare(plan, replace(other, steps=tuple(forced))))


def _shared_part(step: StepPlan) -> tuple[object, ...]:
    answers = {
        outcome: tuple(getattr(answer, name) for name in _ANSWER_CARRIED) for outcome, answer in step.answers.items()
    }
    return (*(getattr(step, name) for name in _CARRIED), answers)


def _step(own: StepPlan, was: StepPlan, now: StepPlan, cautions: Mapping[str, CautionPlan], *, force: bool) -> StepPlan:
    changed = {
        name: getattr(now, name)
        for name in _CARRIED
        if getattr(was, name) != getattr(now, name) and (force or getattr(own, name) == getattr(was, name))
    }
    if "cautions" in changed:
        # A list has one wording for each caution, whichever step names it.
        changed["cautions"] = tuple(cautions.get(one.key, one) for one in now.cautions)
    return replace(own, **changed, answers=_answers(own, was, now, force=force))


def _answers(own: StepPlan, was: StepPlan, now: StepPlan, *, force: bool) -> Mapping[str, AnswerPlan]:
    kept = {outcome: own.answers[outcome] for outcome in own.answers if not _taken_away(outcome, own, was, now, force)}
    for outcome, answer in now.answers.items():
        before = was.answers.get(outcome)
        mine = own.answers.get(outcome)
        if mine is None and before is None:
            kept[outcome] = replace(answer, **{name: getattr(AnswerPlan(), name) for name in ANSWER_OF_THE_LIST})
        elif mine is not None:
            old = before or AnswerPlan()
            kept[outcome] = replace(
                mine,
                **{
                    name: getattr(answer, name)
                    for name in _ANSWER_CARRIED
                    if getattr(old, name) != getattr(answer, name)
                    and (force or getattr(mine, name) == getattr(old, name))
                },
            )
    return kept


def _taken_away(outcome: str, own: StepPlan, was: StepPlan, now: StepPlan, force: bool) -> bool:
    if outcome in now.answers or outcome not in was.answers:
        return False
    mine, old = own.answers[outcome], was.answers[outcome]
    return force or all(getattr(mine, name) == getattr(old, name) for name in _ANSWER_CARRIED)


def only_words(before: ChecklistPlan, after: ChecklistPlan) -> bool:
    """Whether nothing is different but what people read: then nothing else can happen at the bench than before."""
    return [_wordless(step) for step in before.steps] == [_wordless(step) for step in after.steps]


def _wordless(step: StepPlan) -> StepPlan:
    return replace(
        step,
        title="",
        do=(),
        look_for=(),
        counts_as_found="",
        for_customer="",
        tools=(),
        consumables=(),
        cautions=(),
        shows=(),
        minutes=0.0,
        skill="",
        answers={
            outcome: replace(answer, says="", cure="", call_customer=None) for outcome, answer in step.answers.items()
        },
    )
