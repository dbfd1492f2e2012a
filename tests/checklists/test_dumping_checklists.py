"""Checklists written back to files: what comes out loads as what went in."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

from diagnosis.layout import dump, load_folder, load_texts, step_data
from tests.shipped import shipped_folder

SHIPPED = shipped_folder()


def test_what_is_dumped_loads_as_the_same() -> None:
    assert load_texts(dump(SHIPPED)) == SHIPPED


def test_a_written_folder_loads_as_the_same(tmp_path: Path) -> None:
    for name, text in dump(SHIPPED).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert load_folder(tmp_path) == SHIPPED


def test_a_shared_step_stays_shared_and_states_only_what_differs() -> None:
    steps = yaml.safe_load(dump(SHIPPED)["sits-low.yaml"])["steps"]
    by_use = {step["use"]: step for step in steps if "use" in step}
    assert by_use["wheel-out"] == {"use": "wheel-out"}
    assert by_use["bleed-legs"] == {
        "use": "bleed-legs",
        "ends_search": {"leg-vacuum": 0.95},
        "answers": {"found": {"cause": "leg-vacuum", "next": "prove-rest"}},
    }


def test_a_folder_that_is_not_utf_8_is_refused(tmp_path: Path) -> None:
    (tmp_path / "cautions.yaml").write_bytes(b"a: \xff\xfe")
    with pytest.raises(ValueError, match=r"cautions\.yaml: is not UTF-8 text"):
        load_folder(tmp_path)


def test_step_data_is_plain_json_with_every_field() -> None:
    step = SHIPPED.checklist("sits-low").step("free-port-at-maximum")
    data = step_data(step)
    assert json.loads(json.dumps(data)) == data
    assert data["only_if"] == {"spring_kind": ["air"], "self_equalising": [True]}
    assert data["cautions"][0]["text"] == SHIPPED.cautions["compressed-air"].text
    assert data["readings"][0]["key"] == "pressure_reached"
    assert data["timer"] == {"minutes": 10.0, "label": "Staying up?"}
