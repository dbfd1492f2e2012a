"""What an answer does to the beliefs (Bayes' rule), and what happens when no listed cause fits."""

import random
from collections import Counter
from dataclasses import replace

import pytest

from diagnosis.next_step import EveryCauseRuledOutError, beliefs_after, update_beliefs
from diagnosis.ordering import SearchStep, expected_minutes

BELIEFS = {"scratch": 0.5, "dry_seal": 0.3, "blocked_port": 0.2}
LOOK = SearchStep("look", 4.0, frozenset(), {"scratch": 0.8})
STRIP = SearchStep("strip", 40.0, frozenset(), {"scratch": 1.0, "dry_seal": 1.0, "blocked_port": 1.0})


def test_ruled_out_takes_belief_from_the_causes_the_step_would_have_shown() -> None:
    # by hand: .5 * .2 = .1, .3 and .2 are left, together .6
    assert update_beliefs(BELIEFS, LOOK, "ruled_out") == pytest.approx(
        {"scratch": 1 / 6, "dry_seal": 1 / 2, "blocked_port": 1 / 3}
    )


def test_found_leaves_only_the_causes_the_step_shows() -> None:
    two = SearchStep("bleed", 6.0, frozenset(), {"dry_seal": 0.5, "blocked_port": 0.25})
    # by hand: .3 * .5 = .15 against .2 * .25 = .05
    assert update_beliefs(BELIEFS, two, "found") == pytest.approx(
        {"scratch": 0.0, "dry_seal": 0.75, "blocked_port": 0.25}
    )


@pytest.mark.parametrize("outcome", ["cant_tell", "done", "left_out"])
def test_answers_without_news_change_nothing(outcome: str) -> None:
    assert update_beliefs(BELIEFS, LOOK, outcome) == BELIEFS


def test_the_order_of_answers_does_not_matter() -> None:
    bleed = SearchStep("bleed", 6.0, frozenset(), {"dry_seal": 0.5})
    one = beliefs_after(BELIEFS, [(LOOK, "ruled_out"), (bleed, "ruled_out")])
    other = beliefs_after(BELIEFS, [(bleed, "ruled_out"), (LOOK, "ruled_out")])
    assert one.beliefs == pytest.approx(other.beliefs)
    assert one.contradicted_at is None


def test_agrees_with_counting_simulated_forks() -> None:
    """Outside check: among 60,000 drawn forks the look missed, causes occur as often as Bayes' rule says."""
    chance = random.Random(5)
    causes = chance.choices(list(BELIEFS), weights=list(BELIEFS.values()), k=60_000)
    missed = Counter(cause for cause in causes if chance.random() >= LOOK.ends_search.get(cause, 0.0))
    for cause, belief in update_beliefs(BELIEFS, LOOK, "ruled_out").items():
        assert missed[cause] / missed.total() == pytest.approx(belief, abs=0.011)  # four standard errors


def test_minutes_still_to_come_follow_from_the_updated_beliefs() -> None:
    whole = expected_minutes(("look", "strip"), (LOOK, STRIP), BELIEFS)
    after = expected_minutes(("strip",), (STRIP,), update_beliefs(BELIEFS, LOOK, "ruled_out"))
    assert whole == pytest.approx(LOOK.minutes + 0.6 * after)


@pytest.mark.parametrize(
    ("step", "outcome"), [(STRIP, "ruled_out"), (SearchStep("ride", 9.0, frozenset(), {}), "found")]
)
def test_an_answer_that_no_cause_explains_is_refused(step: SearchStep, outcome: str) -> None:
    with pytest.raises(EveryCauseRuledOutError, match=f"'{step.key}'") as refused:
        update_beliefs(BELIEFS, step, outcome)
    assert refused.value.step_key == step.key


def test_a_run_goes_on_after_a_contradiction_and_says_where_it_was() -> None:
    again = replace(STRIP, key="strip_again")
    answers = [(LOOK, "ruled_out"), (STRIP, "ruled_out"), (LOOK, "cant_tell"), (again, "ruled_out")]
    now = beliefs_after(BELIEFS, answers)
    assert now.contradicted_at == "strip"
    assert now.beliefs == pytest.approx(update_beliefs(BELIEFS, LOOK, "ruled_out"))


def test_unknown_outcome() -> None:
    with pytest.raises(ValueError, match=r"'maybe'.*'look'"):
        update_beliefs(BELIEFS, LOOK, "maybe")


def test_cause_without_a_belief() -> None:
    with pytest.raises(ValueError, match="'gremlin'"):
        update_beliefs(BELIEFS, SearchStep("look", 4.0, frozenset(), {"gremlin": 0.5}), "ruled_out")


def test_beliefs_that_do_not_sum_to_one() -> None:
    with pytest.raises(ValueError, match="sum to"):
        update_beliefs({"scratch": 0.5}, LOOK, "ruled_out")
