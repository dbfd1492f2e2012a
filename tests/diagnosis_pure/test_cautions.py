"""Cautions by signal words: the gravest first, dangers never folded, the usual ones in full once a job. No database."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnosis.cautions import CAUTION, DANGER, LEVELS, NOTICE, WARNING, cautions_shown, graded
from diagnosis.layout import load_folder
from diagnosis.layout_writing import dump, step_data
from tests.shipped import shipped_folder

AIR, COIL = {"kind": "fork", "spring_kind": "air"}, {"kind": "fork", "spring_kind": "coil"}


def one(key: str, level: str = "", **more: Any) -> dict[str, Any]:
    return {"key": key, "title": key.capitalize(), "text": f"Of {key}.", **({"level": level} if level else {}), **more}


EVERY = [one("rags", NOTICE), one("pinch", CAUTION), one("glasses", WARNING), one("trapped", DANGER)]


def test_the_signal_words_are_those_of_the_standards_gravest_first() -> None:
    assert list(LEVELS.values()) == ["Danger", "Warning", "Caution", "Notice"]
    assert [caution.word for caution in graded(EVERY, AIR)] == list(LEVELS.values())
    assert [caution.alerts for caution in graded(EVERY, AIR)] == [True, True, True, False]


@pytest.mark.parametrize("level", ["", "loud"])
def test_one_without_a_level_that_is_known_counts_as_a_warning(level: str) -> None:
    assert graded([one("old", level)], AIR)[0].level == WARNING


def test_dangers_stand_first_in_full_however_often_they_were_met() -> None:
    shown = cautions_shown(EVERY, AIR, met=frozenset({"rags", "pinch", "glasses", "trapped"}))
    assert [caution.key for caution in shown.first] == ["trapped"]
    assert [caution.key for caution in shown.in_full] == ["glasses"]  # a warning is not folded either
    assert [caution.key for caution in shown.in_a_line] == ["pinch", "rags"]


def test_the_usual_ones_are_in_full_until_a_step_of_the_job_has_shown_them() -> None:
    shown = cautions_shown(EVERY, AIR, met=frozenset({"rags"}))
    assert [caution.key for caution in shown.in_full] == ["glasses", "pinch"]
    assert [caution.key for caution in shown.named] == ["glasses", "pinch", "rags"]


def test_a_caution_of_air_is_not_shown_on_a_coil_and_is_where_nobody_knows() -> None:
    air = [one("trapped", DANGER, only_if={"spring_kind": ["air"]})]
    assert graded(air, COIL) == []
    assert len(graded(air, AIR)) == len(graded(air, {"kind": "fork"})) == 1


def test_every_shipped_caution_declares_its_level_and_a_danger_takes_two_lines() -> None:
    for caution in shipped_folder().cautions.values():
        assert caution.level in LEVELS
        if caution.level == DANGER:
            assert len(caution.title) + len(caution.text) <= 180
    assert {caution.level for caution in shipped_folder().cautions.values()} == set(LEVELS)
    assert shipped_folder().cautions["trapped-air"].level == DANGER


def test_the_level_survives_a_round_through_the_files(tmp_path: Path) -> None:
    for name, text in dump(shipped_folder()).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert load_folder(tmp_path).cautions == shipped_folder().cautions


def test_a_step_carries_levels_and_units_of_its_cautions() -> None:
    stored = step_data(shipped_folder().checklist("sits-low").step("all-air-out"))["cautions"]
    trapped = next(entry for entry in stored if entry["key"] == "trapped-air")
    assert (trapped["level"], trapped["only_if"]) == ("danger", {"spring_kind": ["air"]})
