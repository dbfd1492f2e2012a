"""Readings that are words, as a checklist file says them: read, refused, written, compared, and typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from diagnosis.comparing import compare
from diagnosis.layout import ChecklistPlan
from diagnosis.layout_fields import Fields
from diagnosis.layout_plans import LayoutError, ReadingPlan, StepPlan
from diagnosis.layout_reading import read_step
from diagnosis.layout_writing import step_data
from diagnosis.reading_kinds import LONGEST_CHOICE, WORD_KINDS, options_of
from diagnosis.runs_readings import ReadingsRefused, Typed, read_all
from tests.shipped import shipped_folder

YES_NO = {"key": "knob_off", "label": "Rebound knob off", "quantity": "yes_no", "required": True, "help": "By hand."}
SIDE = {**YES_NO, "key": "side", "label": "Which side", "quantity": "choice", "choices": ["left", "right"]}
STEP = {
    "key": "knob", "kind": "work", "title": "Knob", "do": ["Pull."], "minutes": 1, "skill": "mechanic",
    "for_customer": "We looked.",
}  # fmt: skip


def read(*readings: Mapping[str, Any]) -> StepPlan:
    raw = {**STEP, "readings": [dict(reading) for reading in readings]}
    return read_step(Fields(raw, file="x.yaml", step="knob"), {})


def test_a_file_says_yes_or_no_and_one_of_a_list() -> None:
    knob, side = read(YES_NO, SIDE).readings
    assert knob == ReadingPlan("knob_off", "Rebound knob off", "yes_no", "", True, "", "", "By hand.")
    assert side.choices == ("left", "right")
    assert [options_of(plan) for plan in step_data(read(YES_NO, SIDE))["readings"]] == [
        ("yes", "no"),
        ("left", "right"),
    ]


def test_it_is_written_and_read_back_the_same() -> None:
    step = read(YES_NO, SIDE)
    assert read(*step_data(step)["readings"]) == step


def test_a_magnitude_is_stored_as_it_was_before_there_were_words() -> None:
    for plan in shipped_folder().checklists:
        for step in plan.steps:
            stored = step_data(step)["readings"]
            assert all(("choices" in one) == bool(options_of(one)) or one["quantity"] == "yes_no" for one in stored)


@pytest.mark.parametrize(
    ("reading", "field", "reason"),
    [
        ({**SIDE, "choices": ["left"]}, "choices", "needs 2 to 12 choices"),
        ({**SIDE, "choices": []}, "choices", "needs 2 to 12 choices"),
        ({**SIDE, "choices": [str(n) for n in range(13)]}, "choices", "needs 2 to 12 choices"),
        ({**SIDE, "choices": ["left", "LEFT"]}, "choices", "stands there twice"),
        ({**SIDE, "choices": ["left", "x" * (LONGEST_CHOICE + 1)]}, "choices", "longer than 60"),
        ({**YES_NO, "choices": ["yes", "no"]}, "choices", "only one of a list has choices"),
        ({**YES_NO, "unit": "mm"}, "unit", "yes or no has no 'unit'"),
        ({**YES_NO, "low": "0 mm"}, "low", "yes or no has no 'low'"),
        ({**SIDE, "wanted": "sag"}, "wanted", "one of a list has no 'wanted'"),
        ({**YES_NO, "as_found": True}, "as_found", "yes or no has no 'as_found'"),
        ({**YES_NO, "measures": "sag"}, "measures", "yes or no has no 'measures'"),
        ({**YES_NO, "quantity": "weather"}, "quantity", "'weather' is none of"),
        (
            {**YES_NO, "quantity": "length", "unit": "mm", "low": "0 mm", "high": "9 mm", "choices": ["a", "b"]},
            "choices",
            "only one of a list has choices",
        ),
    ],
)
def test_what_does_not_fit_is_refused_beside_its_field(reading: dict[str, Any], field: str, reason: str) -> None:
    with pytest.raises(LayoutError, match=reason) as refused:
        read(reading)
    assert f"readings.0.{field}" in [error.field for error in refused.value.all]


def test_a_comparison_says_what_a_reading_became() -> None:
    before = shipped_folder().checklist("sits-low")
    step = next(step for step in before.steps if step.readings)
    was = step.readings[0]
    as_side = replace(read(SIDE).readings[0], key=was.key, label=was.label, help=was.help, required=was.required)
    words = _changes(before, step, as_side)
    assert f"Reading “{was.label}”, quantity: “{was.quantity}” is now “one of a list”." in words
    assert f"Reading “{was.label}”, choices, added: “left”, “right”." in words
    again = _changes(_with(before, step, as_side), step, replace(as_side, choices=("left", "right", "both")))
    assert f"Reading “{was.label}”, choices, added: “both”." in again


def _with(plan: ChecklistPlan, step: StepPlan, reading: ReadingPlan) -> ChecklistPlan:
    changed = replace(step, readings=(reading, *step.readings[1:]))
    return replace(plan, steps=tuple(changed if one.key == step.key else one for one in plan.steps))


def _changes(plan: ChecklistPlan, step: StepPlan, reading: ReadingPlan) -> list[str]:
    return [line for one in compare(plan, _with(plan, step, reading)).steps for line in one.details]


PLANS = step_data(read(YES_NO, SIDE))["readings"]


def test_a_word_is_taken_as_the_file_writes_it_and_has_no_magnitude() -> None:
    taken = read_all(PLANS, Typed({"knob_off": " YES ", "side": "left"}), all_well=True)
    assert [(one.key, one.typed, one.magnitude_si, one.is_outside) for one in taken] == [
        ("knob_off", "yes", None, False),
        ("side", "left", None, False),
    ]


def test_another_word_is_refused_with_those_there_are() -> None:
    with pytest.raises(ReadingsRefused) as refused:
        read_all(PLANS, Typed({"knob_off": "1", "side": "top"}))
    assert refused.value.errors == {"knob_off": "Choose yes or no.", "side": "Choose left or right."}


def test_every_kind_has_its_words() -> None:
    assert all(len(kind.options) != 1 for kind in WORD_KINDS.values())
