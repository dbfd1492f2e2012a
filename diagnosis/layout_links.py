"""What a checklist and a folder hold together: references, order, reachable causes, one wording a key."""

from __future__ import annotations

from collections.abc import Sequence

from diagnosis.layout_plans import ChecklistPlan, LayoutError, StepPlan


def check_links(file: str, plan: ChecklistPlan) -> None:
    """Refuse references to nothing, needs that run in a circle or backwards, and causes no step can find."""
    _refuse_twice(file, "step", [step.key for step in plan.steps])
    _refuse_twice(file, "cause", [cause.key for cause in plan.causes])
    if plan.is_routine and plan.causes:
        raise LayoutError(file, "", "a routine checklist has no causes")
    if not plan.is_routine and not plan.causes:
        raise LayoutError(file, "", "a complaint needs at least one cause")
    steps = {step.key for step in plan.steps}
    causes = {cause.key for cause in plan.causes}
    for step in plan.steps:
        _check_step(file, step, steps, causes)
    _refuse_circle(file, plan.steps)
    _refuse_late_needs(file, plan.steps)
    _refuse_unreachable(file, plan)


def _refuse_twice(file: str, what: str, keys: Sequence[str]) -> None:
    seen: set[str] = set()
    for key in keys:
        if key in seen:
            raise LayoutError(file, key if what == "step" else "", f"duplicate key: {what} {key!r} is there twice")
        seen.add(key)


def _check_step(file: str, step: StepPlan, steps: set[str], causes: set[str]) -> None:
    for need in step.needs:
        if need not in steps:
            raise LayoutError(file, step.key, f"needs {need!r}, which is no step of this checklist")
    for cause in step.ends_search:
        if cause not in causes:
            raise LayoutError(file, step.key, f"ends_search names {cause!r}, which is no cause of this checklist")
    for outcome, answer in step.answers.items():
        if answer.next and answer.next not in steps:
            raise LayoutError(file, step.key, f"{outcome} leads to {answer.next!r}, which is no step of this checklist")
        if answer.next == step.key:
            raise LayoutError(file, step.key, f"{outcome} leads back to the step itself")
        if answer.cause and answer.cause not in causes:
            raise LayoutError(file, step.key, f"{outcome} names {answer.cause!r}, which is no cause of this checklist")
        if answer.cause and not step.ends_search.get(answer.cause):
            raise LayoutError(file, step.key, f"{outcome} names {answer.cause!r}, but ends_search gives it no chance")


def _refuse_circle(file: str, steps: Sequence[StepPlan]) -> None:
    left = {step.key: set(step.needs) for step in steps}
    while left:
        ready = {key for key, needs in left.items() if not needs & left.keys()}
        if not ready:
            first = next(iter(left))
            raise LayoutError(file, first, f"needs run in a circle through {', '.join(left)}")
        left = {key: needs for key, needs in left.items() if key not in ready}


def _refuse_late_needs(file: str, steps: Sequence[StepPlan]) -> None:
    before: set[str] = set()
    for step in steps:
        for need in step.needs:
            if need not in before:
                raise LayoutError(file, step.key, f"needs {need!r}, which comes later in the list")
        before.add(step.key)


def _refuse_unreachable(file: str, plan: ChecklistPlan) -> None:
    for cause in plan.causes:
        if not any(_can_find(step, cause.key) for step in plan.steps):
            raise LayoutError(file, "", f"no step can find the cause {cause.key!r}")


def _can_find(step: StepPlan, cause: str) -> bool:
    """Whether "found" at the step can mean that cause: it names it, or leaves the choice among those it can end."""
    found = step.answers.get("found")
    return found is not None and bool(step.ends_search.get(cause)) and found.cause in (cause, None)


def check_folder(plans: Sequence[tuple[str, ChecklistPlan]], shared: Sequence[StepPlan]) -> None:
    """Refuse keys that mean two things: a step, complaint or checklist given twice, a cause told in two ways."""
    owners = {step.key: "the shared steps" for step in shared}
    complaints: dict[str, str] = {}
    causes: dict[str, tuple[str, str, str]] = {}
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
            words = (cause.title, cause.for_customer)
            first_file, *first_words = causes.setdefault(cause.key, (file, *words))
            if tuple(first_words) != words:
                raise LayoutError(file, "", f"cause {cause.key!r} is worded otherwise in {first_file}")
