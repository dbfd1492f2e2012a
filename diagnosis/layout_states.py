"""What the steps of a checklist hold together about the state of the unit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnosis.layout_plans import PROOF, STILL_PULLING, WORK, ChecklistPlan, LayoutError, StepPlan
from diagnosis.unit_parts import AS_IT_CAME, CHAMBERS, EMPTY, PARTS, allowed_values
from diagnosis.unit_state import UNSURE
from specs.facts import FactValue

_Left = Mapping[tuple[str, str], set[str]]


def state_problems(file: str, plan: ChecklistPlan) -> Iterator[LayoutError]:
    """Conditions that no step brings about, and parts that no unit has."""
    left = _brought_about(plan)
    for step in plan.steps:
        yield from _required_in_vain(file, plan, step, left)
        yield from _of_no_unit(file, plan, step)


def _brought_about(plan: ChecklistPlan) -> dict[tuple[str, str], set[str]]:
    """Part and condition to the work and proofs of which a sure answer, or air that still pulls, leaves it so.

    A check is a question: nobody is sent to one for what it does to the unit on the way.
    """
    left: dict[tuple[str, str], set[str]] = {}
    for step in plan.steps:
        for outcome, answer in step.answers.items() if step.kind in (WORK, PROOF) else ():
            if outcome not in UNSURE or outcome == STILL_PULLING:
                for left_so in answer.leaves.items():
                    left.setdefault(left_so, set()).add(step.key)
    return left


def _required_in_vain(file: str, plan: ChecklistPlan, step: StepPlan, left: _Left) -> Iterator[LayoutError]:
    for part, words in step.requires.items():
        allowed = allowed_values(part, words)
        by = set().union(*(left.get((part, value), set()) for value in allowed)) - {step.key}
        if _has_part(plan, step, part) and AS_IT_CAME not in allowed and not by:
            reason = f"requires {part} {' or '.join(words)}, which no step brings about"
            beside = f"{PARTS[part].label}: no other work or proof of this checklist leaves it as this step requires."
            yield LayoutError(file, step.key, reason, field="requires", beside=beside)


def _of_no_unit(file: str, plan: ChecklistPlan, step: StepPlan) -> Iterator[LayoutError]:
    left = [(f"answers.{outcome}.leaves", f"{outcome} leaves", one.leaves) for outcome, one in step.answers.items()]
    for field, said, parts in (*left, ("opens", "opens", step.opens)):
        for part in parts:
            if not _has_part(plan, step, part):
                reason = f"{said} {part!r}, which no unit has that it is for"
                beside = f"{PARTS[part].label}: no unit that this step is for has it."
                yield LayoutError(file, step.key, reason, field=field, beside=beside)


def opened_under_air(file: str, plan: ChecklistPlan) -> Iterator[LayoutError]:
    """Steps that open what air presses on without asking that the air is out; that it hurts people is common practice.

    Cheap enough for a stranger's file; a draft is gone through state by state (diagnosis.checking).
    """
    for step in plan.steps:
        yield from _opens_under_air(file, plan, step)


def _opens_under_air(file: str, plan: ChecklistPlan, step: StepPlan) -> Iterator[LayoutError]:
    opened = {*step.opens}
    for answer in step.answers.values():
        opened |= {part for part, value in answer.leaves.items() if value in PARTS[part].opened}
    pressed = [part for part in PARTS if part in opened and PARTS[part].bears]
    full = [
        chamber
        for chamber in CHAMBERS
        if _has_part(plan, step, chamber) and set(step.requires.get(chamber, ())) != {EMPTY}
    ]
    if pressed and full:
        parts, chambers = (" and ".join(PARTS[key].named for key in keys) for keys in (pressed, full))
        reason = f"opens {parts}, which air presses on, without requiring that {chambers} is empty"
        beside = f"It opens {parts}, which air presses on: require here that {chambers} is empty."
        yield LayoutError(file, step.key, reason, field="requires", beside=beside)


def _has_part(plan: ChecklistPlan, step: StepPlan, part: str) -> bool:
    """Whether a unit that the step is for can have the part."""
    return all(
        not known or bool(set(values) & known)
        for fact, values in PARTS[part].when.items()
        for known in [_values_of(plan, step, fact)]
    )


def _values_of(plan: ChecklistPlan, step: StepPlan, fact: str) -> set[FactValue]:
    """The values that a fact can have on the units a step is for; empty where it says nothing of it."""
    wanted = set(step.only_if.get(fact, ()))
    suits: set[FactValue] = set(plan.complaint.suits) if fact == "kind" else set()
    return wanted & suits if wanted and suits else wanted or suits
