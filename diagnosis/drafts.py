"""A draft of a checklist: plain data in the file layout, and what may be done with it.

Each function gives new data and leaves what it was given alone. Nothing here knows Django: a draft is judged by the
same rules as a file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any

from diagnosis.layout import ChecklistPlan, LayoutError, read_checklist
from diagnosis.layout_fields import Fields
from diagnosis.layout_links import link_problems
from diagnosis.layout_plans import LAYOUT, PROOF
from diagnosis.layout_safeguards import safeguard_problems

DraftData = dict[str, Any]
COMMON_PRACTICE = "common practice, no published source"


class DraftRefused(ValueError):
    """What was asked for would break the draft; `problems` says how."""

    def __init__(self, problems: Sequence[LayoutError]) -> None:
        super().__init__(" ".join(problem.beside for problem in problems))
        self.problems = tuple(problems)


def new_draft(*, key: str, title: str, suits: Sequence[str], symptoms: Sequence[str], is_routine: bool) -> DraftData:
    """A checklist with neither causes nor steps yet."""
    return {
        "layout": LAYOUT,
        "complaint": {"key": key, "title": title, "suits": list(suits), "symptoms": list(symptoms)},
        "causes": [],
        "checklist": {
            "key": key,
            "title": title,
            "summary": "Cheapest check first.",
            "kind": "routine" if is_routine else "complaint",
            "chances_source": COMMON_PRACTICE,
        },
        "cautions": {},
        "steps": [],
    }


def plan_of_draft(data: DraftData) -> ChecklistPlan:
    """The draft as a plan. Raises LayoutError with all that does not fit the layout; links may still be broken."""
    return read_checklist(Fields(data, file=_file(data)), {})


def problems_of(data: DraftData, before: ChecklistPlan | None) -> list[LayoutError]:
    """All that keeps the draft from being put in use in place of `before`."""
    try:
        plan = plan_of_draft(data)
    except LayoutError as error:
        return list(error.all)
    found = list(link_problems(_file(data), plan))
    if not plan.steps:
        found.insert(0, LayoutError(_file(data), "", "There are no steps yet.", field="steps"))
    if before is not None:
        found += safeguard_problems(_file(data), before, plan)
    return found


def change(data: DraftData, changed: DraftData, before: ChecklistPlan | None, *, step: str = "") -> DraftData:
    """The changed data, unless a step would be broken that was not: by its own fields, its links or its safety.

    A cause that no step can find yet does not count: cause and step are written one after the other. Of the step
    `step`, problems it had before count as well.

    Raises:
        DraftRefused: with every new problem.
    """
    known = {_mark(problem) for problem in problems_of(data, before) if problem.step != step}
    new = [one for one in problems_of(changed, before) if one.step and _mark(one) not in known]
    if new:
        raise DraftRefused(new)
    return changed


def step_of(data: DraftData, key: str) -> dict[str, Any]:
    """The raw step of that key; KeyError if there is none."""
    steps: dict[str, dict[str, Any]] = {step["key"]: step for step in data["steps"]}
    return steps[key]


def with_step(data: DraftData, raw: Mapping[str, Any], cautions: Mapping[str, Mapping[str, Any]]) -> DraftData:
    """A step in the place of the one with its key, or last if there is none; the cautions it names are taken along."""
    changed = deepcopy(data)
    keys = [step["key"] for step in data["steps"]]
    if raw["key"] in keys:
        changed["steps"][keys.index(raw["key"])] = dict(raw)
    else:
        changed["steps"].append(dict(raw))
    known = changed.get("cautions", {})
    changed["cautions"] = known | {key: dict(cautions[key]) for key in raw.get("cautions", []) if key not in known}
    return changed


def moved(data: DraftData, key: str, place: int) -> DraftData:
    """The step at another place of the list, counted from 0."""
    changed = deepcopy(data)
    step = step_of(changed, key)
    changed["steps"].remove(step)
    changed["steps"].insert(max(0, place), step)
    return changed


def retired(data: DraftData, key: str, replaced_by: str = "") -> DraftData:
    """The draft without a step.

    What needed it or led to it goes to its replacement. Without one, what needed it needs what it needed itself, so
    that no order is loosened, what led to it goes on in order, and what it put together again is closed by nothing. A
    safety or proof step is noted at its replacement.
    """
    changed = deepcopy(data)
    gone = step_of(changed, key)
    changed["steps"].remove(gone)
    places = {step["key"]: place for place, step in enumerate(changed["steps"])}
    for place, step in enumerate(changed["steps"]):
        if key in step.get("needs", []):
            instead = [replaced_by] if replaced_by else gone.get("needs", [])
            kept = [need for need in step["needs"] if need != key]
            step["needs"] = kept + [need for need in instead if need not in kept and places.get(need, place) < place]
        for answer in step.get("answers", {}).values():
            if answer.get("next") == key:
                answer["next"] = replaced_by if replaced_by != step["key"] else None
            if key in answer.get("repair", []):
                answer["repair"] = [one for one in answer["repair"] if one != key]
        if step.get("closed_by") == key:
            step["closed_by"] = replaced_by
    if replaced_by and (gone.get("safety") or gone["kind"] == PROOF):
        heir = step_of(changed, replaced_by)
        heir["replaces"] = list(dict.fromkeys([*heir.get("replaces", []), key, *gone.get("replaces", [])]))
    return changed


def with_head(
    data: DraftData, *, complaint: Mapping[str, Any], head: Mapping[str, Any], causes: Sequence[Mapping[str, Any]]
) -> DraftData:
    """Other words for complaint and checklist, and other causes. A cause that goes is taken out of the steps too."""
    changed = deepcopy(data)
    changed["complaint"] |= complaint
    changed["checklist"] |= head
    changed["causes"] = [dict(cause) for cause in causes]
    kept = {cause["key"] for cause in causes}
    for step in changed["steps"]:
        step["ends_search"] = {key: chance for key, chance in step.get("ends_search", {}).items() if key in kept}
        for answer in step.get("answers", {}).values():
            if answer.get("cause") and answer["cause"] not in kept:
                answer["cause"] = None
    return changed


def _file(data: DraftData) -> str:
    return f"{data['checklist']['key']}.yaml"


def _mark(problem: LayoutError) -> tuple[str, str, str]:
    return problem.step, problem.field, problem.reason
