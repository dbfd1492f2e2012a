"""A step adapted to the facts of a unit: which lines, whether at all, and what stays open."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from diagnosis.layout import applies, lines_for, step_data, steps_for
from diagnosis.layout_facts import PHRASES, Facts, condition_of
from specs.facts import FACTS
from tests.checklists.on_a_unit import causes_for, needs_for
from tests.shipped import shipped_folder

SHIPPED = shipped_folder()
SITS_LOW = SHIPPED.checklist("sits-low")


def test_a_fork_with_foot_bolts_gets_the_lines_for_bolts() -> None:
    lines = lines_for(SITS_LOW.step("foot-fasteners-off"), {"foot_fastener": "bolt", "crush_washers": False})
    text = " ".join(line.text for line in lines)
    assert "foot bolts" in text
    assert "foot nuts" not in text
    assert "crush washers" not in text
    assert all(line.condition == "" for line in lines)


def test_an_unknown_fastener_shows_both_with_their_condition() -> None:
    lines = lines_for(SITS_LOW.step("foot-fasteners-off"), {"foot_fastener": None, "crush_washers": True})
    assert [line.condition for line in lines if line.condition] == ["If it has foot bolts", "If it has foot nuts"]


@pytest.mark.parametrize(
    ("retention", "words"),
    [("internal_circlip", "circlip"), ("wire_ring", "wire ring"), ("threaded_cap", "Unscrew the threaded seal head")],
)
def test_the_air_spring_comes_out_by_the_way_it_is_held(retention: str, words: str) -> None:
    lines = lines_for(SITS_LOW.step("air-spring-out"), {"spring_retention": retention})
    assert len(lines) == 3
    assert words in lines[1].text


def test_bleeding_uses_the_button_or_the_strip() -> None:
    step = SITS_LOW.step("bleed-legs")
    assert "button" in lines_for(step, {"bleed_buttons": True})[1].text
    assert "strip" in lines_for(step, {"bleed_buttons": False})[1].text


@pytest.mark.parametrize(
    ("facts", "answer"),
    [
        ({"spring_kind": "air", "spring_retention": "internal_circlip"}, "yes"),
        ({"spring_kind": "air", "spring_retention": "wire_ring"}, "no"),
        ({"spring_kind": "air"}, "maybe"),
        ({"spring_kind": "coil"}, "no"),
        ({"spring_kind": "air", "spring_retention": None}, "maybe"),
        ({}, "maybe"),
    ],
)
def test_the_circlip_is_proved_only_where_there_is_one(facts: dict[str, str | None], answer: str) -> None:
    assert applies(SITS_LOW.step("prove-circlip-seat"), facts) == answer


def test_a_false_fact_is_known_and_not_taken_for_unknown() -> None:
    assert applies(SITS_LOW.step("foam-rings"), {"foam_rings": False}) == "no"


def test_a_step_that_may_apply_says_on_what_that_depends() -> None:
    step = SITS_LOW.step("prove-circlip-seat")
    assert condition_of(step, {}) == "If it has an air spring and a circlip holds the spring"
    assert condition_of(step, {"spring_kind": "air"}) == "If a circlip holds the spring"
    assert condition_of(step, {"spring_kind": "coil"}) == ""


def test_several_values_are_offered_with_or() -> None:
    step = SHIPPED.checklist("shock-loses-air").step("shock-can-off")
    conditions = [line.condition for line in lines_for(step, {}) if line.condition]
    assert conditions[0] == "If a circlip holds the spring or a wire ring holds the spring"


def test_plain_data_adapts_as_the_plan_does() -> None:
    step = SITS_LOW.step("foot-fasteners-off")
    data = step_data(step)
    record = SimpleNamespace(only_if=data["only_if"], do=data["do"])
    every: list[Facts] = [{}, {"foot_fastener": "nut"}, {"foot_fastener": "bolt", "crush_washers": True}]
    for facts in every:
        assert lines_for(record, facts) == lines_for(step, facts)
        assert applies(record, facts) == applies(step, facts)


def test_a_coil_fork_gets_no_air_steps_and_no_air_causes() -> None:
    coil = {"kind": "fork", "spring_kind": "coil"}
    assert "free-port-by-hand" not in {step.key for step in steps_for(SITS_LOW, coil)}
    causes = {cause.key for cause in causes_for(SITS_LOW, coil)}
    assert "coil-too-soft" in causes
    assert not {"bore-scored", "port-blocked", "worn-piston-seal"} & causes
    assert "coil-too-soft" not in {cause.key for cause in causes_for(SITS_LOW, {"spring_kind": "air"})}


def test_a_need_that_does_not_apply_is_replaced_by_its_own_needs() -> None:
    needs = needs_for(SITS_LOW, {"spring_kind": "coil"})["foot-fasteners-off"]
    assert needs == {"record-clicks", "caliper-off", "preload-off", "record-arrival"}  # the last for all-air-out


def test_every_value_of_every_fact_has_its_words() -> None:
    assert {key: set(values) for key, values in PHRASES.items()} == {
        key: set(fact.values) for key, fact in FACTS.items()
    }
