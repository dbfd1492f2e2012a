"""A stored version of a checklist as a plan, the same as a file gives, and as data in the file layout."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable, Mapping
from typing import Any

from diagnosis.layout import CausePlan, CautionPlan, ChecklistPlan, ComplaintPlan, StepPlan, checklist_data
from diagnosis.layout_fields import Fields
from diagnosis.layout_reading import read_caution, read_step
from diagnosis.layout_writing import caution_data
from diagnosis.models import Cause, Checklist, Step

_STEP_FIELDS = tuple(item.name for item in dataclasses.fields(StepPlan) if item.name != "shared")


def plan_of(
    checklist: Checklist, *, steps: Iterable[Step] | None = None, causes: Mapping[str, Cause] | None = None
) -> ChecklistPlan:
    """A version as a plan. Give `steps` in handbook order and `causes` by key where they were read already.

    The words of complaint and causes are those of today: they are not kept by version.
    """
    if steps is None:
        steps = checklist.steps.order_by("position")
    if causes is None:
        causes = Cause.objects.in_bulk(list(checklist.priors), field_name="key")
    complaint = checklist.complaint
    weighed = sorted(checklist.priors.items(), key=lambda item: (-item[1], item[0]))
    return ChecklistPlan(
        key=checklist.key,
        title=checklist.title,
        summary=checklist.summary,
        is_routine=complaint.is_routine,
        chances_source=checklist.chances_source,
        complaint=ComplaintPlan(complaint.key, complaint.title, tuple(checklist.suits), tuple(complaint.symptoms)),
        causes=tuple(
            CausePlan(key, causes[key].title, causes[key].for_customer, float(prior), tuple(causes[key].ends_life))
            for key, prior in weighed
        ),
        steps=tuple(step_plan_of(step, file=f"{checklist.key}.yaml") for step in steps),
    )


@dataclasses.dataclass(frozen=True)
class InUse:
    """A version in use, and the same as a plan."""

    checklist: Checklist
    plan: ChecklistPlan


def in_use(keys: Iterable[str] | None = None) -> dict[str, InUse]:
    """The versions in use by the checklist's key, all or those asked for; three queries."""
    current = Checklist.objects.filter(is_current=True).select_related("complaint", "made_by").prefetch_related("steps")
    if keys is not None:
        current = current.filter(key__in=list(keys))
    causes = Cause.objects.in_bulk(field_name="key")
    return {
        one.key: InUse(one, plan_of(one, steps=sorted(one.steps.all(), key=lambda step: step.position), causes=causes))
        for one in current
    }


def _caution(entry: Mapping[str, Any], file: str) -> CautionPlan:
    said = {name: value for name, value in entry.items() if name != "key"}
    return read_caution(entry["key"], Fields(said, file=file))


def step_plan_of(step: Step, *, file: str = "") -> StepPlan:
    """A stored step as a plan."""
    raw = {name: getattr(step, name) for name in _STEP_FIELDS}
    cautions = {entry["key"]: _caution(entry, file) for entry in raw["cautions"]}
    return read_step(Fields(raw | {"cautions": list(cautions)}, file=file, step=step.key), cautions)


def data_of(plan: ChecklistPlan) -> dict[str, Any]:
    """A checklist that stands alone in the file layout: its steps in full, and the cautions they name."""
    alone = dataclasses.replace(plan, steps=tuple(dataclasses.replace(step, shared=False) for step in plan.steps))
    data = checklist_data(alone, {})
    cautions = {caution.key: caution for step in plan.steps for caution in step.cautions}
    steps = data.pop("steps")
    if cautions:
        data["cautions"] = {key: caution_data(entry) for key, entry in sorted(cautions.items())}
    return data | {"steps": steps}


def same_words(one: ChecklistPlan, other: ChecklistPlan) -> bool:
    """Whether two plans say the same; the order in which causes are listed says nothing."""
    return _canonical(one) == _canonical(other)


def same_but_for_apostrophes(one: ChecklistPlan, other: ChecklistPlan) -> bool:
    """As `same_words`, whichever apostrophe it is written with: for that alone nobody has to read it through again."""
    return _with_straight_apostrophes(one) == _with_straight_apostrophes(other)


def _with_straight_apostrophes(plan: ChecklistPlan) -> str:
    return _canonical(plan).replace("\u2019", "'")


def _canonical(plan: ChecklistPlan) -> str:
    data = data_of(plan)
    data["causes"] = {cause["key"]: cause for cause in data["causes"]}
    data["complaint"]["suits"] = sorted(data["complaint"]["suits"])
    return json.dumps(data, sort_keys=True, ensure_ascii=False)
