"""What a checklist and a folder hold together: references, order, reachable causes, one wording a key."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import islice

from diagnosis.layout_plans import (
    CAUSE,
    MOST_PROBLEMS,
    PROOF,
    WORK,
    AnswerPlan,
    CausePlan,
    ChecklistPlan,
    LayoutError,
    StepPlan,
    one_error,
)
from diagnosis.layout_states import state_problems


def check_links(file: str, plan: ChecklistPlan) -> None:
    """Refuse all of `link_problems`, in one LayoutError."""
    problems = list(islice(link_problems(file, plan), MOST_PROBLEMS + 1))
    if problems:
        raise one_error(problems)


def reference_problems(
    file: str, steps: Sequence[StepPlan], step_keys: Collection[str], cause_keys: Collection[str]
) -> Iterator[LayoutError]:
    """What some steps of a checklist name that it does not have; for one of which not all could be read."""
    for step in steps:
        yield from _step_problems(file, step, set(step_keys), set(cause_keys))


def link_problems(file: str, plan: ChecklistPlan) -> Iterator[LayoutError]:
    """References to nothing, needs that run in a circle or backwards, and causes no step can find."""
    yield from _twice(file, "step", [step.key for step in plan.steps])
    yield from _twice(file, "cause", [cause.key for cause in plan.causes])
    if plan.is_routine and plan.causes:
        yield LayoutError(file, "", "a routine checklist has no causes", field="causes")
    if not plan.is_routine and not plan.causes:
        yield LayoutError(file, "", "a complaint needs at least one cause", field="causes")
    steps = {step.key: step for step in plan.steps}
    causes = {cause.key for cause in plan.causes}
    for step in plan.steps:
        yield from _step_problems(file, step, set(steps), causes)
    circle = _circle(plan.steps)
    if circle:
        titles = ", which needs ".join(f"“{steps[key].title}”" for key in (*circle, circle[0]))
        for key in circle:
            reason = f"needs run in a circle through {', '.join(circle)}"
            yield LayoutError(file, key, reason, field="needs", beside=f"Needs run in a circle: {titles}.")
    yield from _late_needs(file, plan.steps, circle)
    yield from _early_closing(file, plan.steps)
    yield from state_problems(file, plan)
    yield from _repair_problems(file, plan)
    for place, cause in enumerate(plan.causes):
        if not any(_can_find(step, cause.key) for step in plan.steps):
            reason = f"no step can find the cause {cause.key!r}"
            beside = f"No step can find “{cause.title}”. Give a check a chance for it."
            yield LayoutError(file, "", reason, field=f"causes.{place}.title", beside=beside)


def _twice(file: str, what: str, keys: Sequence[str]) -> Iterator[LayoutError]:
    for place, key in enumerate(keys):
        if key in keys[:place]:
            step, field = (key, "key") if what == "step" else ("", f"causes.{place}.key")
            yield LayoutError(file, step, f"duplicate key: {what} {key!r} is there twice", field=field)


def _step_problems(file: str, step: StepPlan, steps: set[str], causes: set[str]) -> Iterator[LayoutError]:
    def problem(field: str, reason: str, beside: str = "") -> LayoutError:
        return LayoutError(file, step.key, reason, field=field, beside=beside)

    for need in step.needs:
        if need not in steps:
            yield problem("needs", f"needs {need!r}, which is no step of this checklist")
    if step.closed_by and step.closed_by not in steps:
        yield problem("closed_by", f"is closed by {step.closed_by!r}, which is no step of this checklist")
    for cause in step.ends_search:
        if cause not in causes:
            yield problem("ends_search", f"ends_search names {cause!r}, which is no cause of this checklist")
    for outcome, answer in step.answers.items():
        yield from _answer_problems(file, step, outcome, answer, steps, causes)


def _repair_problems(file: str, plan: ChecklistPlan) -> Iterator[LayoutError]:
    """What answers a finding is work or a proof of the same checklist; only what was found is a finding."""
    kinds = {step.key: step.kind for step in plan.steps}
    for step in plan.steps:
        for outcome, answer in step.answers.items():
            place = f"answers.{outcome}"
            if outcome != "found" and (answer.finding or answer.repair):
                name = "finding" if answer.finding else "repair"
                reason = f"{outcome} finds nothing, so it has no {name}"
                yield LayoutError(file, step.key, reason, field=f"{place}.{name}")
            if answer.finding == CAUSE and not any(chance > 0 for chance in step.ends_search.values()):
                reason = "found is called the cause, but ends_search gives no cause a chance"
                beside = "This step has no chance to find a cause. Enter one under “How surely it finds each cause”."
                yield LayoutError(file, step.key, reason, field=f"{place}.finding", beside=beside)
            for key in answer.repair:
                if kinds.get(key) not in (WORK, PROOF):
                    reason = f"{outcome} is answered by {key!r}, which is no work and no proof of this checklist"
                    yield LayoutError(file, step.key, reason, field=f"{place}.repair")


def _answer_problems(
    file: str, step: StepPlan, outcome: str, answer: AnswerPlan, steps: set[str], causes: set[str]
) -> Iterator[LayoutError]:
    def problem(field: str, reason: str, beside: str = "") -> LayoutError:
        return LayoutError(file, step.key, reason, field=f"answers.{outcome}.{field}", beside=beside)

    if answer.next and answer.next not in steps:
        yield problem("next", f"{outcome} leads to {answer.next!r}, which is no step of this checklist")
    if answer.next == step.key:
        yield problem("next", f"{outcome} leads back to the step itself")
    if answer.cause and answer.cause not in causes:
        yield problem("cause", f"{outcome} names {answer.cause!r}, which is no cause of this checklist")
    elif answer.cause and not step.ends_search.get(answer.cause):
        reason = f"{outcome} names {answer.cause!r}, but ends_search gives it no chance"
        beside = "This step has no chance to find that cause. Enter one under “How surely it finds each cause”."
        yield problem("cause", reason, beside)


def _circle(steps: Sequence[StepPlan]) -> list[str]:
    """Keys of steps that need each other in a circle, each needing the next and the last the first."""
    left = {step.key: list(step.needs) for step in steps}
    while True:
        ready = {key for key, needs in left.items() if not any(need in left for need in needs)}
        if not ready:
            break
        left = {key: needs for key, needs in left.items() if key not in ready}
    if not left:
        return []
    walked = [next(iter(left))]
    while True:  # every step left needs another that is left, so the walk must come back to where it was
        need = next(need for need in left[walked[-1]] if need in left)
        if need in walked:
            return walked[walked.index(need) :]
        walked.append(need)


def _late_needs(file: str, steps: Sequence[StepPlan], circle: Sequence[str]) -> Iterator[LayoutError]:
    places = {step.key: place for place, step in enumerate(steps)}
    titles = {step.key: step.title for step in steps}
    for place, step in enumerate(steps):
        for need in step.needs:
            if places.get(need, -1) >= place and not (need in circle and step.key in circle):
                reason = f"needs {need!r}, which comes later in the list"
                beside = f"“{step.title}” needs “{titles[need]}”, which comes later in the list."
                yield LayoutError(file, step.key, reason, field="needs", beside=beside)


def _early_closing(file: str, steps: Sequence[StepPlan]) -> Iterator[LayoutError]:
    """Steps that would be put together again by one that comes before them, or by themselves."""
    places = {step.key: place for place, step in enumerate(steps)}
    for place, step in enumerate(steps):
        if places.get(step.closed_by, len(steps)) <= place:
            reason = f"is closed by {step.closed_by!r}, which does not come later in the list"
            beside = "Choose a step that comes later in the list."
            yield LayoutError(file, step.key, reason, field="closed_by", beside=beside)
        closing = places.get(step.closed_by)
        if closing is not None and steps[closing].kind != WORK:
            reason = f"is closed by {step.closed_by!r}, which is no work"
            yield LayoutError(file, step.key, reason, field="closed_by", beside="Choose a step that is work.")


def _can_find(step: StepPlan, cause: str) -> bool:
    """Whether "found" at the step can mean that cause: it names it, or leaves the choice among those it can end."""
    found = step.answers.get("found")
    return found is not None and bool(step.ends_search.get(cause)) and found.cause in (cause, None)


def check_folder(plans: Sequence[tuple[str, ChecklistPlan]], shared: Sequence[StepPlan]) -> None:
    """Refuse keys that mean two things: a step, complaint or checklist given twice, a cause told in two ways."""
    owners = {step.key: "the shared steps" for step in shared}
    complaints: dict[str, str] = {}
    causes: dict[str, tuple[str, CausePlan]] = {}
    for file, plan in plans:
        if plan.complaint.key in complaints:
            first = complaints[plan.complaint.key]
            raise LayoutError(file, "", f"duplicate key: complaint {plan.complaint.key!r} is in {first} as well")
        complaints[plan.complaint.key] = file
        for step in plan.steps:
            if not step.shared:
                if step.key in owners:
                    where = owners[step.key]
                    raise LayoutError(file, step.key, f"duplicate key: it is in {where} as well; share it with 'use'")
                owners[step.key] = file
        for cause in plan.causes:
            first_file, told = causes.setdefault(cause.key, (file, cause))
            if replace(told, prior=cause.prior) != cause:
                raise LayoutError(file, "", f"cause {cause.key!r} is worded otherwise in {first_file}")
