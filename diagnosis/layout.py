"""Checklist files: load and validate a folder of them, write them back, and adapt a step to a unit's facts.

A folder holds `cautions.yaml` (what can hurt), `_shared-steps.yaml` (steps several checklists take with `use:`,
overriding at most needs, ends_search, services, closed_by and answers) and one file a checklist, named for its key. A
file may bring cautions of its own under `cautions:`. A bad folder raises one LayoutError with all that is wrong, each
with file, step and reason. Comments do not survive writing back; everything else does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from diagnosis.layout_facts import Applies, DoLine, applies, condition_of, lines_for, steps_for
from diagnosis.layout_fields import Fields, read_yaml
from diagnosis.layout_links import check_folder, check_links, reference_problems
from diagnosis.layout_plans import (
    LAYOUT,
    AnswerPlan,
    CausePlan,
    CautionPlan,
    ChecklistFolder,
    ChecklistPlan,
    ComplaintPlan,
    LayoutError,
    LinePlan,
    PartPlan,
    ReadingPlan,
    StepPlan,
    TimerPlan,
    one_error,
)
from diagnosis.layout_reading import read_cause, read_caution, read_complaint, read_step
from diagnosis.layout_writing import checklist_data, dump, step_data

__all__ = [
    "AnswerPlan",
    "Applies",
    "CausePlan",
    "CautionPlan",
    "ChecklistFolder",
    "ChecklistPlan",
    "ComplaintPlan",
    "DoLine",
    "LayoutError",
    "LinePlan",
    "PartPlan",
    "ReadingPlan",
    "SharedSteps",
    "StepPlan",
    "TimerPlan",
    "applies",
    "checklist_data",
    "condition_of",
    "dump",
    "lines_for",
    "load_cautions",
    "load_checklist",
    "load_folder",
    "load_shared",
    "load_texts",
    "read_checklist",
    "step_data",
    "steps_for",
]

CAUTIONS_FILE = "cautions.yaml"
SHARED_FILE = "_shared-steps.yaml"
RawStep = Mapping[str, Any]
_OVERRIDES = ("needs", "ends_search", "services", "closed_by")
# What stands in for a head that does not fit; it never leaves the reader.
_NO_COMPLAINT = ComplaintPlan(key="", title="", suits=(), symptoms=())
_NO_CHECKLIST = ChecklistPlan(
    key="", title="", summary="", is_routine=False, chances_source="", complaint=_NO_COMPLAINT, causes=(), steps=()
)


def load_folder(folder: Path) -> ChecklistFolder:
    """Load every .yaml file of a folder. Raises LayoutError with all that does not fit."""
    texts = {}
    for path in sorted(folder.glob("*.yaml")):
        try:
            texts[path.name] = path.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            raise LayoutError(path.name, "", "is not UTF-8 text") from error
    return load_texts(texts)


def load_texts(texts: Mapping[str, str]) -> ChecklistFolder:
    """The same from texts by file name, such as an upload. Raises LayoutError."""
    if CAUTIONS_FILE not in texts:
        raise LayoutError(CAUTIONS_FILE, "", "the file is missing")
    cautions = load_cautions(texts[CAUTIONS_FILE])
    shared = load_shared(texts[SHARED_FILE], cautions) if SHARED_FILE in texts else SharedSteps()
    plans: list[tuple[str, ChecklistPlan]] = []
    problems: list[LayoutError] = []
    for file in sorted(set(texts) - {CAUTIONS_FILE, SHARED_FILE}):
        try:
            plan = load_checklist(file, texts[file], cautions, shared)
        except LayoutError as error:
            problems += error.all
            continue
        plans.append((file, plan))
        if file != f"{plan.key}.yaml":
            problems.append(LayoutError(file, "", f"the checklist {plan.key!r} belongs in {plan.key}.yaml"))
    if problems:
        raise one_error(problems)
    check_folder(plans, shared.plans)
    return ChecklistFolder(cautions=cautions, shared_steps=shared.plans, checklists=tuple(plan for _, plan in plans))


@dataclass(frozen=True)
class SharedSteps:
    """The steps that several checklists take with `use:`, as read and as they stand in their file."""

    plans: tuple[StepPlan, ...] = ()
    raw: Mapping[str, RawStep] = field(default_factory=dict)


def load_cautions(text: str) -> dict[str, CautionPlan]:
    """The cautions file. Raises LayoutError."""
    return _read_cautions(read_yaml(CAUTIONS_FILE, text))


def load_shared(text: str, cautions: Mapping[str, CautionPlan]) -> SharedSteps:
    """The file of the shared steps. Raises LayoutError."""
    fields = read_yaml(SHARED_FILE, text)
    _check_layout(fields)
    shared: dict[str, tuple[RawStep, StepPlan]] = {}
    for raw in fields.items("steps", required=True):
        with fields.noting():
            step = read_step(_step_fields(raw, fields), cautions, shared=True)
            if step.key in shared:
                raise LayoutError(SHARED_FILE, step.key, f"duplicate key: step {step.key!r} is there twice")
            shared[step.key] = raw, step
    fields.done()
    return SharedSteps(tuple(step for _, step in shared.values()), {key: raw for key, (raw, _) in shared.items()})


def load_checklist(
    file: str, text: str, cautions: Mapping[str, CautionPlan], shared: SharedSteps = SharedSteps()
) -> ChecklistPlan:
    """One checklist's file, whatever its name, with what it holds together. Raises LayoutError."""
    fields = read_yaml(file, text)
    fields.items("steps", required=True)
    plan = read_checklist(fields, cautions, shared)
    check_links(file, plan)
    return plan


def read_checklist(
    fields: Fields, cautions: Mapping[str, CautionPlan], shared: SharedSteps = SharedSteps()
) -> ChecklistPlan:
    """A checklist from its fields; it may have no steps yet. Raises LayoutError, but does not look at its links.

    `cautions` under the file's own name add to those given, so that a file can stand alone.
    """
    _check_layout(fields)
    known = {**cautions, **_cautions(fields)}
    plan = replace(
        fields.read("checklist", _read_head, _NO_CHECKLIST, required=True),
        complaint=fields.read("complaint", read_complaint, _NO_COMPLAINT, required=True),
        causes=fields.each("causes", read_cause),
        steps=_load_steps(fields, known, shared.raw),
    )
    if fields.problems:
        _note_broken_references(fields, plan)
    fields.done()
    return plan


def _read_head(head: Fields) -> ChecklistPlan:
    """What a file says of the checklist itself, with neither complaint, causes nor steps yet."""
    plan = ChecklistPlan(
        key=head.key("key"),
        title=head.text("title", longest=120),
        summary=head.text("summary"),
        is_routine=head.choice("kind", ("complaint", "routine")) == "routine",
        chances_source=head.text("chances_source", longest=160),
        complaint=_NO_COMPLAINT,
        causes=(),
        steps=(),
    )
    head.done()
    return plan


def _note_broken_references(fields: Fields, plan: ChecklistPlan) -> None:
    """Where something could not be read, the steps that could are still held against every key that the file has."""
    keys = [str(raw.get("key") or raw.get("use")) for raw in fields.items("steps") if isinstance(raw, Mapping)]
    causes = [str(raw.get("key")) for raw in fields.items("causes") if isinstance(raw, Mapping)]
    for problem in reference_problems(fields.file, plan.steps, keys, causes):
        fields.note(problem)


def _cautions(fields: Fields) -> dict[str, CautionPlan]:
    """The file's own cautions; where they do not fit, their names, so that the steps are not refused for them."""
    raw = fields.raw.get("cautions")
    named = {str(key): CautionPlan(str(key), "", "") for key in raw} if isinstance(raw, Mapping) else {}
    return fields.read("cautions", _read_cautions, named)


def _read_cautions(fields: Fields) -> dict[str, CautionPlan]:
    found = {}
    for key, value in fields.raw.items():
        with fields.noting():
            found[str(key)] = read_caution(str(key), fields.within(str(key), value))
    fields.settle()
    return found


def _load_steps(
    fields: Fields, cautions: Mapping[str, CautionPlan], shared: Mapping[str, RawStep]
) -> tuple[StepPlan, ...]:
    steps = []
    for raw in fields.items("steps"):
        with fields.noting():
            steps.append(_load_step(raw, fields, cautions, shared))
    return tuple(steps)


def _load_step(
    raw: object, fields: Fields, cautions: Mapping[str, CautionPlan], shared: Mapping[str, RawStep]
) -> StepPlan:
    step = _step_fields(raw, fields)
    if not step.has("use"):
        return read_step(step, cautions)
    key = step.key("use")
    step.settle()
    step.step = key
    if key not in shared:
        raise step.refuse(f"use names {key!r}, which is no shared step")
    merged = dict(shared[key])
    for name in _OVERRIDES:
        if step.has(name):
            merged[name] = step.raw[name]
    if step.has("answers"):
        base = shared[key].get("answers") or {}
        merged["answers"] = step.read("answers", partial(_merged_answers, base), base)
    step.done()
    return read_step(_step_fields(merged, fields), cautions, shared=True)


def _merged_answers(base: Mapping[str, Any], changes: Fields) -> dict[str, Any]:
    """Field by field: a checklist states only what is different about an answer; null takes a field away."""
    merged = dict(base)
    for outcome, raw in changes.raw.items():
        merged[outcome] = {**(base.get(outcome) or {}), **changes.within(outcome, raw).raw}
    return merged


def _step_fields(raw: object, fields: Fields) -> Fields:
    if not isinstance(raw, Mapping):
        raise fields.refuse(f"steps must hold mappings of fields, not {raw!r}")
    return Fields(raw, file=fields.file, step=str(raw.get("key") or raw.get("use") or "?"))


def _check_layout(fields: Fields) -> None:
    if fields.number("layout") != LAYOUT:
        fields.note(fields.refuse(f"layout must be {LAYOUT}, not {fields.raw['layout']!r}"))
