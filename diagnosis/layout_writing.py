"""From plans back to the checklist layout, leaving out what is at its default."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import yaml

from diagnosis.layout_plans import (
    LAYOUT,
    AnswerPlan,
    CausePlan,
    CautionPlan,
    ChecklistFolder,
    ChecklistPlan,
    Condition,
    LinePlan,
    ReadingPlan,
    StepPlan,
)


def dump(folder: ChecklistFolder) -> dict[str, str]:
    """The folder as texts by file name; loading them gives an equal folder."""
    cautions = {key: caution_data(caution) for key, caution in folder.cautions.items()}
    texts = {"cautions.yaml": as_yaml(cautions)}
    if folder.shared_steps:
        shared = [_with_caution_keys(step) for step in folder.shared_steps]
        texts["_shared-steps.yaml"] = as_yaml({"layout": LAYOUT, "steps": shared})
    bases = {step.key: step for step in folder.shared_steps}
    for plan in folder.checklists:
        texts[f"{plan.key}.yaml"] = as_yaml(checklist_data(plan, bases))
    return texts


def checklist_data(plan: ChecklistPlan, shared: Mapping[str, StepPlan]) -> dict[str, Any]:
    """One checklist as plain data in the file layout, taking its shared steps with `use`."""
    return {
        "layout": LAYOUT,
        "complaint": _plain(plan.complaint),
        "causes": [_cause(cause) for cause in plan.causes],
        "checklist": {
            "key": plan.key,
            "title": plan.title,
            "summary": plan.summary,
            "kind": "routine" if plan.is_routine else "complaint",
            "chances_source": plan.chances_source,
        },
        "steps": [_use(step, shared[step.key]) if step.shared else _with_caution_keys(step) for step in plan.steps],
    }


def step_data(step: StepPlan) -> dict[str, Any]:
    """A step as plain JSON data, every field present, conditions as lists and cautions written out."""
    data = {item.name: getattr(step, item.name) for item in fields(step) if item.name != "shared"}
    data["do"] = [_line(line) for line in step.do]
    data["only_if"] = _condition(step.only_if)
    data["cautions"] = [{"key": caution.key, **caution_data(caution)} for caution in step.cautions]
    data["readings"] = [_reading(reading) for reading in step.readings]
    data["timer"] = _plain(step.timer) if step.timer else None
    data["ends_search"] = dict(step.ends_search)
    data["requires"] = {part: list(values) for part, values in step.requires.items()}
    data["answers"] = {outcome: _answer(answer) for outcome, answer in step.answers.items()}
    return {name: list(value) if isinstance(value, tuple) else value for name, value in data.items()}


def caution_data(caution: CautionPlan) -> dict[str, Any]:
    """A caution without its key; the units it concerns only where it does not concern all."""
    data = {"title": caution.title, "text": caution.text, "level": caution.level}
    return {**data, "only_if": _condition(caution.only_if)} if caution.only_if else data


def _with_caution_keys(step: StepPlan) -> dict[str, Any]:
    """A step as the file layout has it: empty fields left out, cautions by key."""
    data = step_data(step)
    data["cautions"] = [caution.key for caution in step.cautions]
    data["readings"] = [_without(reading, "measures") for reading in data["readings"]]
    data["answers"] = {outcome: _filled(answer) for outcome, answer in data["answers"].items()}
    return _filled(data)


def _use(step: StepPlan, base: StepPlan) -> dict[str, Any]:
    use: dict[str, Any] = {"use": step.key}
    if step.needs != base.needs:
        use["needs"] = list(step.needs)
    if step.ends_search != base.ends_search:
        use["ends_search"] = dict(step.ends_search)
    if step.services != base.services:
        use["services"] = list(step.services)
    if step.closed_by != base.closed_by:
        use["closed_by"] = step.closed_by
    answers = {}
    for outcome, answer in step.answers.items():
        new, old = _answer(answer), _answer(base.answers.get(outcome, AnswerPlan()))
        changed = {name: value for name, value in new.items() if value != old[name]}
        if changed or outcome not in base.answers:
            answers[outcome] = {name: value or None for name, value in changed.items()}
    if answers:
        use["answers"] = answers
    return use


def _cause(cause: CausePlan) -> dict[str, Any]:
    return _without(_plain(cause), "ends_life")


def _without(data: dict[str, Any], name: str) -> dict[str, Any]:
    """The data without a field that says nothing."""
    return {key: value for key, value in data.items() if key != name or value}


def _answer(answer: AnswerPlan) -> dict[str, Any]:
    return {**_plain(answer), "parts": [_plain(part) for part in answer.parts], "leaves": dict(answer.leaves)}


def _reading(reading: ReadingPlan) -> dict[str, Any]:
    """Without choices where it has none, as it was stored before there were any."""
    return {name: value for name, value in _plain(reading).items() if name != "choices" or value}


def _line(line: LinePlan) -> str | dict[str, Any]:
    return {"when": _condition(line.when), "text": line.text} if line.when else line.text


def _condition(condition: Condition) -> dict[str, Any]:
    return {fact: list(values) for fact, values in condition.items()}


def _plain(record: Any) -> dict[str, Any]:
    values = {item.name: getattr(record, item.name) for item in fields(record)}
    return {name: list(value) if isinstance(value, tuple) else value for name, value in values.items()}


def _filled(data: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in data.items() if value not in (None, "", [], {}) and value is not False}


class _PlainDumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):  # type: ignore[misc]
    """Writes a value that occurs twice twice, for the layout has no anchors."""

    def ignore_aliases(self, data: object) -> bool:
        return True


def as_yaml(data: object) -> str:
    """Plain data as the text of a file."""
    text: str = yaml.dump(data, Dumper=_PlainDumper, sort_keys=False, allow_unicode=True, width=110)
    return text
