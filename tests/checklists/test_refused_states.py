"""What a checklist cannot hold of the state of the unit is refused with step and reason, as a file and as a draft."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from diagnosis.drafts import problems_of, retired, step_of
from diagnosis.layout import ChecklistPlan, LayoutError, load_checklist
from diagnosis.layout_writing import as_yaml
from diagnosis.stored import data_of
from tests.shipped import shipped_folder

Change = Callable[[dict[str, Any]], None]
AIR_OUT = "all-air-out"


def fork() -> ChecklistPlan:
    return shipped_folder().checklist("no-rebound-control")


def nobody_lets_the_air_out(data: dict[str, Any]) -> None:
    for answer in step_of(data, AIR_OUT)["answers"].values():
        answer.pop("leaves", None)


def retire_what_lets_the_air_out(data: dict[str, Any]) -> None:
    data["steps"] = retired(data, AIR_OUT, "prove-brakes")["steps"]


def only_a_check_lets_the_air_out(data: dict[str, Any]) -> None:
    nobody_lets_the_air_out(data)
    step_of(data, "damper-check")["answers"]["ruled_out"]["leaves"] = {"positive_air": "empty", "negative_air": "empty"}


def only_the_step_itself(data: dict[str, Any]) -> None:
    step_of(data, "clean-lowers")["requires"] = {"stem": ["loose"]}
    step_of(data, "clean-lowers")["answers"]["done"]["leaves"] = {"stem": "loose"}


def leaves_the_can_of_a_shock(data: dict[str, Any]) -> None:
    step_of(data, "clean-lowers")["answers"]["done"]["leaves"] = {"can": "removed"}


def opens_the_can_of_a_shock(data: dict[str, Any]) -> None:
    step_of(data, "clean-lowers")["opens"] = ["can"]


def leaves_air_in_a_coil_spring(data: dict[str, Any]) -> None:
    step = step_of(data, "clean-lowers")
    step["only_if"] = {"spring_kind": ["coil"]}
    step["answers"]["done"]["leaves"] = {"positive_air": "charged"}


def reading_without_a_low(data: dict[str, Any]) -> None:
    del step_of(data, "record-arrival")["readings"][0]["low"]


def reading_with_an_empty_high(data: dict[str, Any]) -> None:
    step_of(data, "record-arrival")["readings"][0]["high"] = ""


def reading_with_the_range_backwards(data: dict[str, Any]) -> None:
    step_of(data, "record-arrival")["readings"][0] |= {"low": "250 mm", "high": "0 mm"}


def closed_by_what_comes_first(data: dict[str, Any]) -> None:
    step_of(data, "lowers-off")["closed_by"] = "wheel-out"


def closed_by_a_check(data: dict[str, Any]) -> None:
    step_of(data, "wheel-out")["closed_by"] = "adjuster-rod"


CASES = [
    (nobody_lets_the_air_out, "lowers-off", "requires", "requires positive_air empty, which no step brings about"),
    (retire_what_lets_the_air_out, "lowers-off", "requires", "requires negative_air empty, which no step brings about"),
    (only_a_check_lets_the_air_out, "foot-fasteners-off", "requires",
     "requires positive_air empty, which no step brings about"),
    (only_the_step_itself, "clean-lowers", "requires", "requires stem loose, which no step brings about"),
    (leaves_the_can_of_a_shock, "clean-lowers", "answers.done.leaves",
     "done leaves 'can', which no unit has that it is for"),
    (opens_the_can_of_a_shock, "clean-lowers", "opens", "opens 'can', which no unit has that it is for"),
    (leaves_air_in_a_coil_spring, "clean-lowers", "answers.done.leaves",
     "done leaves 'positive_air', which no unit has that it is for"),
    (reading_without_a_low, "record-arrival", "readings.0.low", "readings: field 'low' is missing"),
    (reading_with_an_empty_high, "record-arrival", "readings.0.high",
     "readings: field 'high' must be text, not ''"),
    (reading_with_the_range_backwards, "record-arrival", "readings.0.high",
     "readings: reading rest_travel: low 250 mm is not below high 0 mm"),
    (closed_by_what_comes_first, "lowers-off", "closed_by",
     "is closed by 'wheel-out', which does not come later in the list"),
    (closed_by_a_check, "wheel-out", "closed_by", "is closed by 'adjuster-rod', which is no work"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "step", "field", "reason"), CASES)
def test_it_is_refused_as_a_file_and_as_a_draft(change: Change, step: str, field: str, reason: str) -> None:
    data = data_of(fork())
    file = f"{fork().key}.yaml"
    assert problems_of(data, fork()) == []
    change(data)
    with pytest.raises(LayoutError) as refused:
        load_checklist(file, as_yaml(data), {})
    assert (step, field, reason) in [(one.step, one.field, one.reason) for one in refused.value.all]
    assert {one.file for one in refused.value.all} == {file}
    in_the_editor = [
        one for one in problems_of(data, fork()) if (one.step, one.field, one.reason) == (step, field, reason)
    ]
    assert len(in_the_editor) == 1
    assert not in_the_editor[0].beside.startswith(("requires ", "opens ", "is closed by 'wheel"))
