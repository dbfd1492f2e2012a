"""What the reader of checklist files refuses, each with file, step and reason."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
import yaml

from diagnosis.layout import LayoutError, load_texts

CAUTIONS = {"brakes": {"title": "Brakes", "text": "Keep oil off the brake."}}
SHARED_STEP = {
    "key": "lowers-off",
    "kind": "work",
    "title": "Lowers off",
    "do": ["Pull straight down."],
    "minutes": 4,
    "skill": "mechanic",
    "for_customer": "We took the lowers off.",
    "answers": {"done": {"says": "The bushings can be seen."}},
}


def a_check() -> dict[str, Any]:
    return {
        "key": "bleed-legs",
        "kind": "check",
        "title": "Bleed the legs",
        "do": ["Press the button.", {"when": {"foam_rings": True}, "text": "Look at the foam."}],
        "counts_as_found": "Air moves.",
        "minutes": 3,
        "skill": "anyone",
        "cautions": ["brakes"],
        "shows": ["max_pressure"],
        "readings": [
            {
                "key": "rest_travel",
                "label": "Rest depth",
                "quantity": "length",
                "unit": "mm",
                "required": True,
                "low": "0 mm",
                "high": "25 cm",
                "help": "From full extension.",
            }
        ],
        "ends_search": {"leg-vacuum": 0.9},
        "answers": {
            "found": {"cause": "leg-vacuum", "says": "That was it.", "parts": [{"role": "wiper", "quantity": 2}]},
            "ruled_out": {"says": "Go on."},
        },
        "for_customer": "We bled the legs.",
    }


def a_checklist() -> dict[str, Any]:
    return {
        "layout": 1,
        "complaint": {"key": "sits-low", "title": "Sits low", "suits": ["fork"], "symptoms": ["it is low"]},
        "causes": [{"key": "leg-vacuum", "title": "Vacuum", "for_customer": "The legs pulled it down.", "prior": 3}],
        "checklist": {
            "key": "sits-low",
            "title": "Sits low",
            "summary": "Cheapest first.",
            "kind": "complaint",
            "chances_source": "common practice, no published source",
        },
        "steps": [a_check(), {"use": "lowers-off"}],
    }


def texts(*checklists: dict[str, Any], shared: list[dict[str, Any]] | None = None) -> dict[str, str]:
    files = {
        "cautions.yaml": yaml.safe_dump(CAUTIONS),
        "_shared-steps.yaml": yaml.safe_dump({"layout": 1, "steps": shared or [SHARED_STEP]}),
    }
    return files | {f"{data['checklist']['key']}.yaml": yaml.safe_dump(data) for data in checklists}


def refusal(*checklists: dict[str, Any], shared: list[dict[str, Any]] | None = None) -> str:
    with pytest.raises(LayoutError) as refused:
        load_texts(texts(*checklists, shared=shared))
    return str(refused.value)


def another(key: str, **changes: Any) -> dict[str, Any]:
    data = a_checklist()
    data["checklist"]["key"] = key
    data["complaint"]["key"] = key
    data["steps"][0]["key"] = f"{key}-step"
    return data | changes


def test_the_sound_checklist_loads() -> None:
    plan = load_texts(texts(a_checklist())).checklist("sits-low")
    assert [step.key for step in plan.steps] == ["bleed-legs", "lowers-off"]
    assert [caution.text for caution in plan.step("bleed-legs").cautions] == ["Keep oil off the brake."]
    assert plan.step("lowers-off").shared


def test_a_use_takes_its_overrides_field_by_field() -> None:
    data = a_checklist()
    data["steps"][1] |= {"needs": ["bleed-legs"], "answers": {"done": {"next": "bleed-legs"}}}
    step = load_texts(texts(data)).checklist("sits-low").step("lowers-off")
    assert step.needs == ("bleed-legs",)
    assert step.answers["done"].next == "bleed-legs"
    assert step.answers["done"].says == "The bushings can be seen."


STEP_REFUSALS = {
    "an unknown field": ({"colour": "red"}, "unknown field 'colour'"),
    "a missing field": ({"minutes": None}, "field 'minutes' is missing"),
    "a missing list": ({"do": []}, "field 'do' must be a list with something in it"),
    "negative minutes": ({"minutes": -1}, "minutes must be a number and not negative, not -1"),
    "minutes that are no number": ({"minutes": "three"}, "minutes must be a number and not negative, not 'three'"),
    "minutes without end": ({"minutes": float("inf")}, "minutes must be a number and not negative, not inf"),
    "an unknown kind": ({"kind": "guess"}, "kind 'guess' is none of check, work, proof"),
    "an unknown skill": ({"skill": "wizard"}, "skill 'wizard' is none of anyone, mechanic, damper specialist"),
    "an unknown caution": ({"cautions": ["lions"]}, "unknown caution 'lions'"),
    "an unknown spec quantity": ({"shows": ["foot_touque"]}, "unknown spec quantity 'foot_touque'"),
    "an unknown bolt": ({"bolts": ["saddle"]}, "unknown bolt 'saddle'"),
    "an unknown fact": ({"only_if": {"paint": "red"}}, "only_if: unknown fact 'paint'"),
    "an unknown value of a fact": ({"only_if": {"kind": "unicycle"}}, "only_if: fact kind has no value 'unicycle'"),
    "a number for yes": ({"only_if": {"foam_rings": 1}}, "only_if: fact foam_rings has no value 1"),
    "an unknown fact of a line": (
        {"do": [{"when": {"paint": "red"}, "text": "Look."}]},
        "do, when: unknown fact 'paint'",
    ),
    "a line that is no text": ({"do": [3]}, "do must be a mapping of fields, not 3"),
    "a title too long for the record": ({"title": "x" * 81}, "field 'title' is longer than 80 characters"),
    "a key with blanks": ({"key": "Bleed Legs"}, "must be lower-case letters"),
    "a flag that is no flag": ({"safety": "sure"}, "field 'safety' must be true or false, not 'sure'"),
    "a chance above one": ({"ends_search": {"leg-vacuum": 1.2}}, "the chance for 'leg-vacuum' must be 0 to 1, not 1.2"),
    "a chance below nought": (
        {"ends_search": {"leg-vacuum": -0.1}},
        "the chance for 'leg-vacuum' must be a number and not negative, not -0.1",
    ),
    "an unknown cause in ends_search": (
        {"ends_search": {"leg-vacuum": 0.9, "ghosts": 0.1}},
        "ends_search names 'ghosts', which is no cause of this checklist",
    ),
    "an unknown need": ({"needs": ["wheel-out"]}, "needs 'wheel-out', which is no step of this checklist"),
    "a need that comes later": ({"needs": ["lowers-off"]}, "needs 'lowers-off', which comes later in the list"),
    "a need on itself": ({"needs": ["bleed-legs"]}, "needs run in a circle"),
    "a timer of no time": ({"timer": {"minutes": 0, "label": "Soak"}}, "a timer needs more than 0 minutes"),
    "a fact of no value": ({"only_if": {"foam_rings": []}}, "only_if: fact foam_rings needs at least one value"),
    "a chance for no key": ({"ends_search": {3: 0.5}}, "3 is no key of a cause"),
    "a sign that no paper can show": ({"title": "Bleed\x07"}, "field 'title' holds a sign that cannot be printed"),
    "an unknown part": ({"requires": {"rocket": "out"}}, "unknown part 'rocket'"),
    "a part in no condition": ({"requires": {"wheel": []}}, "part wheel needs at least one condition"),
    "a condition that the part never has": ({"requires": {"wheel": "tight"}}, "part wheel is never required 'tight'"),
    "a condition that no step brings about": (
        {"requires": {"wheel": "out"}},
        "requires wheel out, which no step brings about",
    ),
    "no counts_as_found": ({"counts_as_found": None}, "field 'counts_as_found' is missing"),
}


@pytest.mark.parametrize(("change", "reason"), STEP_REFUSALS.values(), ids=STEP_REFUSALS)
def test_a_step_is_refused_for(change: dict[str, Any], reason: str) -> None:
    data = a_checklist()
    data["steps"][0] |= change
    message = refusal(data)
    assert message.startswith("sits-low.yaml, step ")
    assert reason in message


ANSWER_REFUSALS = {
    "an outcome of another kind": ({"done": {"says": "x"}}, "'done' is no outcome of a check step"),
    "an unknown next": (
        {"found": {"cause": "leg-vacuum", "says": "x", "next": "moon"}},
        "found leads to 'moon', which is no step of this checklist",
    ),
    "an unknown cause": (
        {"found": {"cause": "ghosts", "says": "x"}},
        "found names 'ghosts', which is no cause of this checklist",
    ),
    "a next that goes nowhere": (
        {"found": {"cause": "leg-vacuum", "says": "x", "next": "bleed-legs"}},
        "found leads back to the step itself",
    ),
    "a repair that is no step": (
        {"found": {"says": "x", "repair": ["moon"]}},
        "found is answered by 'moon', which is no work and no proof of this checklist",
    ),
    "a repair that is a check": (
        {"found": {"says": "x", "repair": ["bleed-legs"]}},
        "found is answered by 'bleed-legs', which is no work and no proof of this checklist",
    ),
    "a repair named twice": (
        {"found": {"says": "x", "repair": ["lowers-off", "lowers-off"]}},
        "duplicate key 'lowers-off' in repair",
    ),
    "a finding where nothing was found": (
        {"ruled_out": {"says": "x", "finding": "danger"}, "found": {"says": "x"}},
        "ruled_out finds nothing, so it has no finding",
    ),
    "an unknown kind of finding": (
        {"found": {"says": "x", "finding": "perhaps"}},
        "'perhaps'",
    ),
    "a found without a sentence": ({"found": {"cause": "leg-vacuum"}}, "answers, found: field 'says' is missing"),
    "half a part": (
        {"found": {"says": "x", "parts": [{"role": "wiper", "quantity": 0.5}]}},
        "quantity must be a whole number from 1, not 0.5",
    ),
    "a condition that nothing is left in": (
        {"found": {"cause": "leg-vacuum", "says": "x", "leaves": {"wheel": "tight"}}},
        "part wheel is never left 'tight'",
    ),
    "a part that no such unit has": (
        {"found": {"cause": "leg-vacuum", "says": "x", "leaves": {"can": "removed"}}},
        "found leaves 'can', which no unit has that it is for",
    ),
    "an unknown specialist": (
        {"found": {"says": "x", "escalate": "moon"}},
        "escalate 'moon' is none of damper",
    ),
}


@pytest.mark.parametrize(("change", "reason"), ANSWER_REFUSALS.values(), ids=ANSWER_REFUSALS)
def test_an_answer_is_refused_for(change: dict[str, Any], reason: str) -> None:
    data = a_checklist()
    data["steps"][0]["answers"] |= change
    message = refusal(data)
    assert message.startswith("sits-low.yaml, step bleed-legs: ")
    assert reason in message


def test_a_check_without_a_found_answer_is_refused() -> None:
    data = a_checklist()
    del data["steps"][0]["answers"]["found"]
    assert refusal(data) == "sits-low.yaml, step bleed-legs: answers: field 'found' is missing"


def test_a_found_cause_without_a_chance_is_refused() -> None:
    data = a_checklist()
    data["steps"][0]["ends_search"] = {}
    assert "found names 'leg-vacuum', but ends_search gives it no chance" in refusal(data)


READING_REFUSALS = {
    "an unknown quantity": ({"quantity": "mood"}, "quantity 'mood' is none of pressure, length"),
    "a unit of another quantity": ({"unit": "psi"}, "unit 'psi' is none of mm, in"),
    "a bound of another quantity": ({"high": "250 psi"}, "reading rest_travel: “psi” is not a unit of length"),
    "bounds the wrong way round": ({"low": "30 cm"}, "reading rest_travel: low 30 cm is not below high 25 cm"),
    "no word on whether it is required": ({"required": None}, "field 'required' is missing"),
}


@pytest.mark.parametrize(("change", "reason"), READING_REFUSALS.values(), ids=READING_REFUSALS)
def test_a_reading_is_refused_for(change: dict[str, Any], reason: str) -> None:
    data = a_checklist()
    data["steps"][0]["readings"][0] |= change
    assert reason in refusal(data)


def test_two_readings_of_one_key_are_refused() -> None:
    data = a_checklist()
    data["steps"][0]["readings"].append(dict(data["steps"][0]["readings"][0]))
    assert "duplicate key 'rest_travel' in reading" in refusal(data)


def test_needs_in_a_circle_are_refused() -> None:
    data = a_checklist()
    data["steps"][0]["needs"] = ["lowers-off"]
    data["steps"][1]["needs"] = ["bleed-legs"]
    circle = "needs run in a circle through bleed-legs, lowers-off"
    assert refusal(data) == f"sits-low.yaml, step bleed-legs: {circle}\nsits-low.yaml, step lowers-off: {circle}"


def test_a_step_twice_in_a_checklist_is_refused() -> None:
    data = a_checklist()
    data["steps"].append({"use": "lowers-off"})
    assert "sits-low.yaml, step lowers-off: duplicate key" in refusal(data)


def test_an_unknown_shared_step_is_refused() -> None:
    data = a_checklist()
    data["steps"][1]["use"] = "uppers-off"
    assert refusal(data) == "sits-low.yaml, step uppers-off: use names 'uppers-off', which is no shared step"


def test_overriding_the_wording_of_a_shared_step_is_refused() -> None:
    data = a_checklist()
    data["steps"][1]["title"] = "Off they come"
    assert refusal(data) == "sits-low.yaml, step lowers-off: unknown field 'title'"


def test_a_shared_step_given_twice_is_refused() -> None:
    assert "_shared-steps.yaml, step lowers-off: duplicate key" in refusal(
        a_checklist(), shared=[SHARED_STEP, deepcopy(SHARED_STEP)]
    )


def test_one_step_key_in_two_checklists_is_refused() -> None:
    second = another("loses-air")
    second["steps"][0]["key"] = "bleed-legs"
    message = refusal(a_checklist(), second)
    assert "step bleed-legs: duplicate key: it is in loses-air.yaml as well; share it with 'use'" in message


def test_a_step_that_hides_a_shared_one_is_refused() -> None:
    data = a_checklist()
    data["steps"] = [a_check(), {**SHARED_STEP, "title": "Mine"}]
    assert "step lowers-off: duplicate key: it is in the shared steps as well" in refusal(data)


def test_one_complaint_in_two_checklists_is_refused() -> None:
    second = another("loses-air")
    second["complaint"]["key"] = "sits-low"
    assert "duplicate key: complaint 'sits-low' is in loses-air.yaml as well" in refusal(a_checklist(), second)


def test_one_cause_told_in_two_ways_is_refused() -> None:
    second = another("loses-air")
    second["causes"][0]["for_customer"] = "Something else."
    assert "cause 'leg-vacuum' is worded otherwise in loses-air.yaml" in refusal(a_checklist(), second)


def test_a_cause_that_no_step_finds_is_refused() -> None:
    data = a_checklist()
    data["causes"].append({"key": "ghosts", "title": "Ghosts", "for_customer": "Haunted.", "prior": 1})
    assert refusal(data) == "sits-low.yaml: no step can find the cause 'ghosts'"


def test_a_cause_twice_is_refused() -> None:
    data = a_checklist()
    data["causes"].append(dict(data["causes"][0]))
    assert "duplicate key: cause 'leg-vacuum' is there twice" in refusal(data)


def test_a_cause_that_could_never_be_learned_is_refused() -> None:
    data = a_checklist()
    data["causes"][0]["prior"] = 0
    assert "cause 'leg-vacuum' needs a prior above zero" in refusal(data)


def test_a_complaint_without_causes_is_refused() -> None:
    data = a_checklist()
    data["causes"] = []
    data["steps"] = [{"use": "lowers-off"}]
    assert "a complaint needs at least one cause" in refusal(data)


def test_a_routine_checklist_with_causes_is_refused() -> None:
    data = a_checklist()
    data["checklist"]["kind"] = "routine"
    assert "a routine checklist has no causes" in refusal(data)


def test_a_complaint_of_an_unknown_kind_of_unit_is_refused() -> None:
    data = a_checklist()
    data["complaint"]["suits"] = ["unicycle"]
    assert "complaint: suits 'unicycle' is none of fork, shock" in refusal(data)


def test_another_layout_is_refused() -> None:
    assert refusal(a_checklist() | {"layout": 2}) == "sits-low.yaml: layout must be 1, not 2"


def test_an_unknown_top_field_is_refused() -> None:
    assert refusal(a_checklist() | {"author": "me"}) == "sits-low.yaml: unknown field 'author'"


def test_a_file_named_for_another_checklist_is_refused() -> None:
    files = texts(a_checklist())
    files["other.yaml"] = files.pop("sits-low.yaml")
    with pytest.raises(LayoutError, match=r"other\.yaml: the checklist 'sits-low' belongs in sits-low\.yaml"):
        load_texts(files)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("layout: 1\nlayout: 1\n", "duplicate key 'layout' in line 2"),
        ("layout: &one 1\nsteps: *one\n", "anchors and aliases are not used here"),
        ("layout: [1\n", "line 2"),
        ("- layout\n", "must be a mapping of fields"),
        ("!!python/object/apply:os.getcwd []\n", "tags are not used here (line 1)"),
        ("? [1]\n: 2\n", "a field’s name must be plain text"),
        ("", "must be a mapping of fields"),
    ],
)
def test_a_file_that_is_no_plain_yaml_mapping_is_refused(text: str, reason: str) -> None:
    files = texts(a_checklist()) | {"sits-low.yaml": text}
    with pytest.raises(LayoutError) as refused:
        load_texts(files)
    assert str(refused.value).startswith("sits-low.yaml: ")
    assert reason in str(refused.value)


def test_missing_cautions_are_refused() -> None:
    files = texts(a_checklist())
    del files["cautions.yaml"]
    with pytest.raises(LayoutError, match=r"cautions\.yaml: the file is missing"):
        load_texts(files)
