"""Bad steps, beliefs and orders are refused with the offending key."""

import math
from collections.abc import Mapping

import pytest

from diagnosis.ordering import (
    SearchStep,
    best_order,
    expected_minutes,
    handbook_order,
    remaining_steps,
    with_pinned,
)

BELIEFS = {"scratch": 0.6, "dry_seal": 0.4}


def step(key: str, *needs: str, minutes: float = 5.0, ends: Mapping[str, float] | None = None) -> SearchStep:
    return SearchStep(key, minutes, frozenset(needs), ends or {})


def refuses(words: str, steps: list[SearchStep], beliefs: Mapping[str, float] = BELIEFS) -> None:
    """Both fixed functions refuse, and say why."""
    with pytest.raises(ValueError, match=words):
        best_order(steps, beliefs)
    with pytest.raises(ValueError, match=words):
        expected_minutes((), steps, beliefs)


def test_good_steps_are_accepted() -> None:
    assert best_order([step("look"), step("bleed", "look")], BELIEFS) == ("look", "bleed")
    assert best_order([], BELIEFS) == ()


def test_cycle() -> None:
    refuses("cycle.*'bleed'", [step("look"), step("bleed", "strip"), step("strip", "bleed")])


def test_step_that_needs_itself() -> None:
    refuses("cycle.*'bleed'", [step("look"), step("bleed", "bleed")])


def test_unknown_prerequisite() -> None:
    refuses("'bleed' needs 'polish'", [step("look"), step("bleed", "polish")])


def test_step_listed_twice() -> None:
    refuses("'look' is listed twice", [step("look"), step("bleed"), step("look")])


@pytest.mark.parametrize("minutes", [-0.1, math.nan, math.inf])
def test_impossible_minutes(minutes: float) -> None:
    refuses("'bleed' takes", [step("look"), step("bleed", minutes=minutes)])


@pytest.mark.parametrize("chance", [-0.01, 1.01, math.nan])
def test_chance_outside_nought_to_one(chance: float) -> None:
    refuses("'bleed'.*'scratch'.*outside", [step("look"), step("bleed", ends={"scratch": chance})])


def test_cause_without_a_belief() -> None:
    refuses("'bleed'.*'gremlin'", [step("look"), step("bleed", ends={"gremlin": 0.5})])


@pytest.mark.parametrize("belief", [-0.1, 1.1, math.nan])
def test_belief_outside_nought_to_one(belief: float) -> None:
    refuses("'dry_seal'.*outside", [step("look")], {"scratch": 1.0 - 0.1, "dry_seal": belief})


@pytest.mark.parametrize("belief", [0.399, 0.401])
def test_beliefs_that_do_not_sum_to_one(belief: float) -> None:
    refuses("'scratch', 'dry_seal' sum to", [step("look")], {"scratch": 0.6, "dry_seal": belief})


def test_no_beliefs() -> None:
    refuses("sum to 0", [step("look")], {})


def test_rounded_beliefs_are_accepted() -> None:
    thirds = {"a": 0.3333333, "b": 0.3333333, "c": 0.3333333}
    assert best_order([step("look")], thirds) == ("look",)


def test_order_with_an_unknown_step() -> None:
    with pytest.raises(ValueError, match="'polish'"):
        expected_minutes(("look", "polish"), [step("look")], BELIEFS)


def test_order_with_a_step_twice() -> None:
    with pytest.raises(ValueError, match="'look' twice"):
        expected_minutes(("look", "look"), [step("look")], BELIEFS)


def test_pinned_step_that_is_not_there() -> None:
    with pytest.raises(ValueError, match="pinned step 'vent'"):
        with_pinned([step("look")], {"vent"})


def test_pinned_step_that_needs_a_later_one() -> None:
    with pytest.raises(ValueError, match=r"cycle.*'look'"):
        best_order([step("look", "bleed"), step("bleed")], BELIEFS, pinned={"look"})
    with pytest.raises(ValueError, match=r"cycle.*'look'"):
        handbook_order([step("look", "bleed"), step("bleed")], pinned={"look"})


def test_done_step_that_is_not_there() -> None:
    with pytest.raises(ValueError, match="done step 'vent'"):
        remaining_steps([step("look")], {"vent"})
