"""A file that does not fit is refused with everything that is wrong in it, each with its step, place and reason."""

from __future__ import annotations

import time
from typing import Any

import pytest
import yaml

from diagnosis.layout import LayoutError, load_checklist, load_texts
from diagnosis.layout_plans import MOST_PROBLEMS, CautionPlan
from tests.checklists.test_refused_layouts import CAUTIONS, a_check, a_checklist, texts
from tests.checklists.test_refused_layouts import another as another_checklist


def problems(*checklists: dict[str, Any]) -> tuple[LayoutError, ...]:
    with pytest.raises(LayoutError) as refused:
        load_texts(texts(*checklists))
    return refused.value.all


def places(*checklists: dict[str, Any]) -> set[tuple[str, str]]:
    return {(one.step, one.field) for one in problems(*checklists)}


def test_every_field_that_does_not_fit_is_told() -> None:
    data = a_checklist()
    data["layout"] = 2
    del data["checklist"]["summary"]
    data["complaint"]["suits"] = ["boat", "kite"]
    data["causes"][0]["prior"] = 0
    data["causes"].append({"key": "Wrong Key", "title": "", "prior": "much"})
    step = data["steps"][0]
    step |= {"minutes": "x", "skill": "anyone at all", "cautions": ["brakes", "sharks"], "nonsense": 1}
    step["do"] = ["Press.", 3, {"text": "Look.", "when": {"moon": True, "kind": "boat"}}]
    step["readings"][0] |= {"low": "9 parsec", "high": "", "required": "maybe"}
    step["answers"]["found"] |= {"says": "", "parts": [{"role": "wiper", "quantity": 0}, {"role": "A B"}]}
    assert places(data) == {
        ("", "layout"),
        ("", "checklist.summary"),
        ("", "complaint.suits"),
        ("", "causes.0.prior"),
        ("", "causes.1.key"),
        ("", "causes.1.title"),
        ("", "causes.1.for_customer"),
        ("", "causes.1.prior"),
        ("bleed-legs", "minutes"),
        ("bleed-legs", "skill"),
        ("bleed-legs", "cautions"),
        ("bleed-legs", "nonsense"),
        ("bleed-legs", "do.1"),
        ("bleed-legs", "do.2.when"),
        ("bleed-legs", "readings.0.low"),
        ("bleed-legs", "readings.0.high"),
        ("bleed-legs", "readings.0.required"),
        ("bleed-legs", "answers.found.says"),
        ("bleed-legs", "answers.found.parts.0.quantity"),
        ("bleed-legs", "answers.found.parts.1.role"),
        ("bleed-legs", "answers.found.parts.1.quantity"),
    }
    said = [one.reason for one in problems(data)]
    assert "complaint: suits 'boat' is none of fork, shock" in said
    assert "complaint: suits 'kite' is none of fork, shock" in said
    assert len(said) == len(set(said))


def test_every_broken_link_is_told() -> None:
    data = a_checklist()
    data["steps"][0]["needs"] = ["gone"]
    data["steps"][0]["answers"]["ruled_out"]["next"] = "nowhere"
    data["steps"][0]["ends_search"]["no-cause"] = 0.5
    assert places(data) == {
        ("bleed-legs", "needs"),
        ("bleed-legs", "answers.ruled_out.next"),
        ("bleed-legs", "ends_search"),
    }


def test_a_broken_field_hides_no_broken_reference_of_another_step() -> None:
    data = a_checklist()
    data["steps"].append(a_check() | {"key": "look-again", "needs": ["gone", "bleed-legs"]})
    data["steps"][0]["title"] = ""
    assert places(data) == {("bleed-legs", "title"), ("look-again", "needs")}
    assert "needs 'gone', which is no step of this checklist" in [one.reason for one in problems(data)]


def test_a_step_in_use_is_refused_beside_the_others() -> None:
    data = a_checklist()
    data["steps"][1] = {"use": "lowers-off", "title": "Mine", "answers": {"done": {"says": ""}, "nonsense": 3}}
    data["steps"].append({"use": "unheard-of"})
    data["steps"].append("no mapping")
    assert places(data) == {
        ("lowers-off", "title"),
        ("lowers-off", "answers.nonsense"),
        ("unheard-of", "use"),
        ("", "steps"),
    }


def test_cautions_that_do_not_fit_do_not_make_the_steps_wrong() -> None:
    data = a_checklist()
    data["cautions"] = {"own": {"title": ""}}
    data["steps"][0]["cautions"] = ["own"]
    assert places(data) == {("", "cautions.own.title"), ("", "cautions.own.text")}


def test_every_file_of_a_folder_is_told() -> None:
    one, two = a_checklist(), another_checklist("creaks")
    one["steps"][0] |= {"minutes": -1, "skill": "none"}
    two["steps"][0]["minutes"] = -1
    found = problems(one, two)
    assert [(each.file, each.step, each.field) for each in found] == [
        ("creaks.yaml", "creaks-step", "minutes"),
        ("sits-low.yaml", "bleed-legs", "minutes"),
        ("sits-low.yaml", "bleed-legs", "skill"),
    ]
    with pytest.raises(LayoutError) as refused:
        load_texts(texts(one, two))
    assert str(refused.value).split("\n") == [str(each) for each in found]  # each told once


def test_the_place_is_told_as_people_count() -> None:
    data = a_checklist()
    data["steps"][0]["readings"][0]["low"] = "much"
    (problem,) = problems(data)
    assert problem.field == "readings.0.low"
    assert problem.where == "readings 1, low"


@pytest.mark.parametrize(
    "steps",
    [
        [{"key": f"step-{number}"} for number in range(5000)],
        [{"nonsense": 1} | {f"field-{number}": 1 for number in range(20_000)}],
        [a_check() | {"readings": [{}] * 20_000}],
        [a_check() | {"look_for": [1] * 20_000, "needs": ["gone"] * 20_000}],
        [a_check() | {"needs": [f"gone-{number}" for number in range(20_000)]}],
        [a_check() | {"title": ["x"] * 100_000}],
        ["x" * 500_000] * 2,
    ],
)
def test_a_hostile_file_is_told_of_so_many_and_no_more(steps: list[Any]) -> None:
    text = yaml.dump(a_checklist() | {"steps": steps}, Dumper=NoAliases)
    started = time.process_time()
    with pytest.raises(LayoutError) as refused:
        load_checklist("sits-low.yaml", text, {key: CautionPlan(key, "", "") for key in CAUTIONS})
    assert time.process_time() - started < 20
    found = refused.value.all
    assert len(found) <= MOST_PROBLEMS + 1
    assert all(len(one.reason) < 700 and len(one.beside) < 700 and len(one.where) < 700 for one in found)
    if len(found) > MOST_PROBLEMS - 1:
        assert found[-1].reason == "more is wrong than can be told at once; these are the first 100"


class NoAliases(yaml.SafeDumper):
    """Writes what is the same out in full."""

    def ignore_aliases(self, data: object) -> bool:
        return True
