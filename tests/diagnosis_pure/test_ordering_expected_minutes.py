"""Expected minutes of an order, against hand sums and against playing the search out."""

import math
import random

import pytest

from diagnosis.ordering import SearchStep, expected_minutes
from tests.lawful_orders import keeps_prerequisites

BELIEFS = {"scratch": 0.5, "dry_seal": 0.3, "blocked_port": 0.2}
LOOK = SearchStep("look", 4.0, frozenset(), {"scratch": 0.8})
BLEED = SearchStep("bleed", 6.0, frozenset(), {"dry_seal": 0.5, "blocked_port": 0.1})
STRIP = SearchStep("strip", 40.0, frozenset({"bleed"}), {"scratch": 1.0, "dry_seal": 1.0, "blocked_port": 1.0})
STEPS = (LOOK, BLEED, STRIP)


def test_adds_minutes_weighted_by_the_chance_that_the_search_is_still_on() -> None:
    # by hand: after look .5*.2 + .3 + .2 = .6; after bleed .1 + .3*.5 + .2*.9 = .43
    assert expected_minutes(("look", "bleed", "strip"), STEPS, BELIEFS) == pytest.approx(4 + 6 * 0.6 + 40 * 0.43)


def test_steps_after_a_certain_one_cost_nothing() -> None:
    assert expected_minutes(("strip", "look", "bleed"), STEPS, BELIEFS) == pytest.approx(40.0)


def test_the_first_steps_of_an_order_have_a_cost_of_their_own() -> None:
    assert expected_minutes(("look", "bleed"), STEPS, BELIEFS) == pytest.approx(4 + 6 * 0.6)
    assert expected_minutes((), STEPS, BELIEFS) == 0.0


def test_agrees_with_playing_the_search_out() -> None:
    """Outside check: 40,000 searches drawn from the stated chances, within four standard errors."""
    chance = random.Random(20)
    order = (BLEED, LOOK, STRIP)
    spent = []
    for cause in chance.choices(list(BELIEFS), weights=list(BELIEFS.values()), k=40_000):
        minutes = 0.0
        for step in order:
            minutes += step.minutes
            if chance.random() < step.ends_search.get(cause, 0.0):
                break
        spent.append(minutes)
    mean = math.fsum(spent) / len(spent)
    error = math.sqrt(math.fsum((m - mean) ** 2 for m in spent)) / len(spent)
    assert abs(expected_minutes(("bleed", "look", "strip"), STEPS, BELIEFS) - mean) < 4 * error


def test_tells_whether_an_order_keeps_the_prerequisites() -> None:
    assert keeps_prerequisites(("bleed", "strip", "look"), STEPS)
    assert not keeps_prerequisites(("strip", "bleed", "look"), STEPS)
