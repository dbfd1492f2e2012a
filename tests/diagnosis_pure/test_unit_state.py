"""The state of a unit from its ticks, and what it forbids. No database."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import AS_IT_CAME, CLOSED, PARTS, UNKNOWN, allowed_values, is_danger
from diagnosis.unit_state import (
    FILLED_OPEN,
    GAS_CHARGED,
    LEFT_EARLY,
    TAKEN_BACK,
    UNDER_PRESSURE,
    UNPROVED_HOLD,
    UnitState,
    dangers,
    effects,
    says_done,
    state_after,
)

AIR_FORK = {"kind": "fork", "spring_kind": "air"}
BOTH_EMPTY = {"positive_air": "empty", "negative_air": "empty"}
BOTH_LEVEL = {"positive_air": "level", "negative_air": "level"}


def step(key: str, kind: str = "work", **more: Any) -> SimpleNamespace:
    given = {"requires": {}, "opens": [], "proves": [], "answers": {}} | more
    given["answers"] = {outcome: {"leaves": left} for outcome, left in given["answers"].items()}
    return SimpleNamespace(key=key, kind=kind, title=key.capitalize(), **given)


AIR_OUT = step("air-out", answers={"done": BOTH_EMPTY})
FILL = step("fill", answers={"done": BOTH_LEVEL})
LOWERS_OFF = step("lowers-off", requires={"positive_air": ["empty"]}, answers={"done": {"lowers": "removed"}})
LOWERS_ON = step("lowers-on", answers={"done": {"lowers": "fitted"}})
RESEAL = step("reseal", opens=["top_cap"], answers={"done": {"top_cap": "fitted"}})
CHECK = step("check", "check", answers={"found": {"air_seals": "leaking"}, "ruled_out": {}})
HOLDS = step("holds", "proof", proves=["top_cap", "positive_air"], answers={"proved": BOTH_LEVEL})


def after(*ticks: tuple[Any, str], facts: Any = AIR_FORK) -> UnitState:
    return state_after(facts, ticks)


def test_a_unit_has_the_parts_of_its_kind_and_nothing_is_empty_that_nobody_emptied() -> None:
    state = after()
    assert set(state.conditions.values()) == {AS_IT_CAME}
    assert "can" not in state.conditions
    assert state.may_be_under_pressure == ["positive_air", "negative_air"]
    assert state.open_parts == []


def test_a_coil_fork_has_no_chambers_and_a_fork_nobody_knows_has_them() -> None:
    assert "positive_air" not in after(facts={"kind": "fork", "spring_kind": "coil"}).conditions
    assert "positive_air" in after(facts={}).conditions
    assert {"lowers", "can"} <= after(facts={}).conditions.keys()


def test_what_was_done_does_not_survive_its_opposite() -> None:
    state = after((AIR_OUT, "done"), (FILL, "done"))
    assert state.may_be_under_pressure == ["positive_air", "negative_air"]
    assert [unmet.words for unmet in state.unmet(LOWERS_OFF)] == [
        "there is air in the positive air chamber, level with the other"
    ]
    assert after((AIR_OUT, "done"), (FILL, "done"), (AIR_OUT, "done")).unmet(LOWERS_OFF) == []


@pytest.mark.parametrize("outcome", ["left_out", "cant_tell", "not_proved"])
def test_an_unsure_answer_leaves_unknown_what_a_sure_one_would_set(outcome: str) -> None:
    one = step("x", answers={"done": {"lowers": "removed"}, "found": {"lowers": "removed"}, "proved": {"wheel": "in"}})
    left = effects(one, outcome)
    assert left == {"lowers": UNKNOWN, "wheel": UNKNOWN}


def test_a_wait_left_early_leaves_unknown_whatever_the_file_says_of_an_unsure_answer() -> None:
    """“Can't tell” may say that it changed nothing; a wait that was not kept says nothing at all."""
    one = step("x", answers={"proved": {"positive_air": "level"}, "not_proved": {"positive_air": "same"}})
    assert effects(one, LEFT_EARLY) == {"positive_air": UNKNOWN}
    assert says_done(one, LEFT_EARLY), "air that went in before the wait is in, so it is refused like the whole step"


@pytest.mark.parametrize("earlier", [(), ((HOLDS, "proved"),)])
def test_a_wait_left_early_is_no_proof_and_sets_an_earlier_one_aside(earlier: tuple[tuple[Any, str], ...]) -> None:
    state = after(*earlier, (HOLDS, LEFT_EARLY))
    assert not state.still_stands(HOLDS)
    assert state.may_be_under_pressure == ["positive_air", "negative_air"]
    assert state.open_parts == ["positive_air", "negative_air"]
    soak = step("soak", timer={"minutes": 10})
    assert not after((soak, LEFT_EARLY)).still_stands(soak), "work whose wait was not kept is open again"


def test_a_wait_left_early_takes_nothing_from_what_another_step_proved() -> None:
    """The ring that was seen in its groove is still in it: only what the wait was for is open."""
    seat = step("seat", "proof", proves=["retention"], answers={"proved": {"retention": "proved"}})
    holds = step("holds", "proof", proves=["retention", "positive_air"], answers={"proved": BOTH_LEVEL})
    state = after((seat, "proved"), (holds, LEFT_EARLY))
    assert state.still_stands(seat)
    assert not state.is_open("retention")


GAS_OUT = step("gas-out", answers={"done": {"gas_charge": "empty"}})
GAS_IN = step("gas-in", answers={"done": {"gas_charge": "charged"}})
LOOK_INSIDE = step("look-inside", "check", opens=["damper_body"], answers={"ruled_out": {"damper_body": "open"}})
SHOCK = {"kind": "shock", "spring_kind": "air"}


@pytest.mark.parametrize("facts", [SHOCK, SHOCK | {"gas_charge": True}, {"kind": "fork", "spring_kind": "coil"}])
@pytest.mark.parametrize("before", [(), ((GAS_OUT, "left_out"),), ((GAS_OUT, "done"), (GAS_OUT, TAKEN_BACK)),
                                    ((GAS_OUT, "done"), (GAS_IN, "done"))])  # fmt: skip
def test_a_damper_is_not_opened_while_its_gas_may_be_in(facts: Any, before: tuple[tuple[Any, str], ...]) -> None:
    """A file may forget to ask for it: opening is known by the parts alone, and what nobody knows counts as charged."""
    assert [danger.rule for danger in dangers(after(*before, facts=facts), LOOK_INSIDE, "ruled_out")] == [GAS_CHARGED]


def test_with_its_gas_out_or_none_ever_in_it_may_be() -> None:
    assert not dangers(after((GAS_OUT, "done"), facts=SHOCK), LOOK_INSIDE, "ruled_out")
    assert not dangers(after(facts=SHOCK | {"gas_charge": False}), LOOK_INSIDE, "ruled_out")


def test_gas_that_was_let_out_is_open_until_it_is_charged_again() -> None:
    assert after((GAS_OUT, "done"), facts=SHOCK).open_parts == ["gas_charge"]
    assert after((GAS_OUT, "done"), (GAS_IN, "left_out"), facts=SHOCK).open_parts == ["gas_charge"]
    assert after((GAS_OUT, "done"), (GAS_IN, "done"), facts=SHOCK).open_parts == []


def test_that_gas_is_out_is_a_danger_to_go_against_and_that_it_is_in_too() -> None:
    assert is_danger("gas_charge", {"empty"})
    assert is_danger("gas_charge", PARTS["gas_charge"].closed)


def test_unless_the_file_says_that_it_changes_nothing() -> None:
    one = step("x", answers={"done": {"lowers": "removed", "oil": "drained"}, "left_out": {"lowers": "same"}})
    assert effects(one, "left_out") == {"oil": UNKNOWN}


def test_an_answer_taken_back_leaves_unknown_what_it_had_set_and_nothing_set_since() -> None:
    state = after((AIR_OUT, "done"), (AIR_OUT, TAKEN_BACK))
    assert state.conditions["positive_air"] == UNKNOWN
    assert state.may_be_under_pressure
    assert "positive_air" in state.open_parts
    state = after((AIR_OUT, "done"), (FILL, "done"), (AIR_OUT, TAKEN_BACK))
    assert state.conditions["positive_air"] == "level"


def test_unknown_is_refused_like_the_dangerous_one() -> None:
    state = after((AIR_OUT, "done"), (AIR_OUT, TAKEN_BACK))
    (unmet,) = state.unmet(LOWERS_OFF)
    assert unmet.is_danger
    assert unmet.words == "nobody has made sure whether there is air in the positive air chamber"
    assert [danger.rule for danger in dangers(state, LOWERS_OFF, "done")] == [UNDER_PRESSURE, UNDER_PRESSURE]


def test_a_proof_stands_until_what_it_proves_is_opened_though_it_was_closed_again() -> None:
    assert after((HOLDS, "proved")).still_stands(HOLDS)
    ticks = [(HOLDS, "proved"), (AIR_OUT, "done"), (RESEAL, "done"), (FILL, "done")]
    assert not after(*ticks).still_stands(HOLDS)
    assert after(*ticks, (HOLDS, "proved")).still_stands(HOLDS)


def test_a_cap_left_alone_was_not_opened() -> None:
    assert after((HOLDS, "proved"), (RESEAL, "left_out")).touched.get("top_cap") == 2  # unknown: it may have been
    same = step("reseal", opens=["top_cap"], answers={"done": {"top_cap": "fitted"}, "left_out": {"top_cap": "same"}})
    assert after((HOLDS, "proved"), (same, "left_out")).still_stands(HOLDS)


def test_work_that_closed_something_is_open_again_with_it() -> None:
    ticks = [(AIR_OUT, "done"), (LOWERS_OFF, "done"), (LOWERS_ON, "done")]
    assert after(*ticks).still_stands(LOWERS_ON)
    assert after(*ticks).still_stands(LOWERS_OFF)  # nobody has to take them off again for it
    assert not after(*ticks, (LOWERS_OFF, "done")).still_stands(LOWERS_ON)


def test_nothing_open_is_filled_and_no_hold_unproved() -> None:
    ring = step("in", answers={"done": {"spring": "in", "retention": "unproved"}})
    state = after((AIR_OUT, "done"), (LOWERS_OFF, "done"))
    assert {danger.rule for danger in dangers(state, FILL, "done")} == {FILLED_OPEN}
    state = after((AIR_OUT, "done"), (ring, "done"))
    assert {danger.rule for danger in dangers(state, FILL, "done")} == {UNPROVED_HOLD}
    assert dangers(state, FILL, "left_out") == []


def test_a_fault_that_was_found_is_open_until_it_is_mended() -> None:
    mend = step("mend", answers={"done": {"air_seals": "renewed"}})
    assert after((CHECK, "found")).open_parts == ["air_seals"]
    assert after((CHECK, "found"), (mend, "done")).open_parts == []
    assert after((CHECK, "found"), (mend, "left_out")).open_parts == ["air_seals"]
    assert after((CHECK, "cant_tell")).conditions["air_seals"] == UNKNOWN


def test_what_is_a_danger_and_what_is_only_of_no_use() -> None:
    assert is_danger("positive_air", {"empty"})
    assert not is_danger("positive_air", {"charged", "level"})
    assert is_danger("lowers", allowed_values("lowers", [CLOSED]))
    assert not is_danger("lowers", {"removed"})


def test_work_brings_a_condition_about_before_a_proof_does_and_a_check_never() -> None:
    asks = step("asks", "check", answers={"found": BOTH_LEVEL})
    assert brought_about_by("positive_air", {"level"}, [HOLDS, asks, FILL]) == [FILL, HOLDS]


def test_every_condition_of_every_part_has_words() -> None:
    for part in PARTS.values():
        for value in (AS_IT_CAME, UNKNOWN, *part.values):
            assert part.in_words(value)
        assert set(part.closed) - {AS_IT_CAME} <= set(part.values)
        assert set(part.opened) <= set(part.values) - set(part.closed)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("wheel", "nobody has touched the wheel"),
        ("retention", "nobody has touched what holds the air spring"),
        ("foot_fasteners", "nobody has touched the foot fasteners"),
        ("brakes", "nobody has tried the brakes yet"),
    ],
)
def test_a_part_as_it_came_is_a_clause_that_can_stand_in_a_sentence(part: str, words: str) -> None:
    assert PARTS[part].in_words(AS_IT_CAME) == words
