"""The sentence beside the next step, and the minutes the suggested order saves."""

import pytest

from diagnosis.next_step import minutes_in_words, next_step_reason, share_in_words
from diagnosis.ordering import SearchStep

BELIEFS = {"scratch": 0.2, "dry_seal": 0.68, "blocked_port": 0.12}
LOOK = SearchStep("look", 10.0, frozenset(), {"scratch": 0.9})
BLEED = SearchStep("bleed", 6.0, frozenset(), {"dry_seal": 0.5})
PREPARE = SearchStep("prepare", 4.0, frozenset(), {})
STRIP = SearchStep("strip", 40.0, frozenset({"prepare"}), {"scratch": 1.0, "dry_seal": 1.0, "blocked_port": 1.0})
STEPS = (LOOK, BLEED, PREPARE, STRIP)


def test_says_minutes_and_share() -> None:
    reason = next_step_reason(STEPS, BELIEFS)
    assert reason is not None
    assert (reason.key, reason.minutes) == ("bleed", 6.0)
    assert reason.share == pytest.approx(0.34)
    assert reason.sentence(verb="cures") == "Six minutes, cures about one in three of these."


def test_says_the_minutes_saved_against_the_handbook() -> None:
    reason = next_step_reason(STEPS, BELIEFS)
    assert reason is not None
    # by hand: look 10, bleed 6 * .82, then .48 on: 44 * .48 = 21.12; bleed first 6, look 10 * .66, the same 21.12
    assert reason.handbook_minutes == pytest.approx(10 + 6 * 0.82 + 21.12)
    assert reason.suggested_minutes == pytest.approx(6 + 10 * 0.66 + 21.12)
    assert reason.saved_minutes == pytest.approx(2.32)
    assert reason.saving_sentence() == "This order saves about two minutes on average."


def test_names_the_step_that_a_preparation_opens() -> None:
    reason = next_step_reason(STEPS, BELIEFS, done={"look", "bleed"})
    assert reason is not None
    assert (reason.key, reason.share, reason.leads_to) == ("prepare", 0.0, "strip")
    assert reason.sentence({"strip": "Lowers off"}) == "Four minutes, needed before “Lowers off”."


def test_says_when_a_step_is_first_for_safety() -> None:
    vent = SearchStep("vent", 1.0, frozenset(), {})
    reason = next_step_reason((vent, *STEPS), BELIEFS, pinned={"vent"})
    assert reason is not None
    assert reason.key == "vent"
    assert reason.sentence() == "One minute, a safety step that keeps its place."


def test_explains_the_handbook_order_when_that_is_shown() -> None:
    reason = next_step_reason(STEPS, BELIEFS, order=("look", "bleed", "prepare", "strip"))
    assert reason is not None
    assert reason.key == "look"
    assert reason.sentence() == "Ten minutes, settles about one in six of these."


def test_a_step_that_settles_nothing_is_just_next() -> None:
    reason = next_step_reason((PREPARE,), BELIEFS)
    assert reason is not None
    assert reason.sentence() == "Four minutes, next in the standard order."
    assert reason.saving_sentence() == ""


def test_no_step_left() -> None:
    assert next_step_reason(STEPS, BELIEFS, done={"look", "bleed", "prepare", "strip"}) is None


def test_order_that_names_no_step_left() -> None:
    with pytest.raises(ValueError, match="polish"):
        next_step_reason(STEPS, BELIEFS, order=("polish",))
    with pytest.raises(ValueError, match="steps left"):
        next_step_reason(STEPS, BELIEFS, done={"look"}, order=("look",))


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "no time"),
        (0.5, "half a minute"),
        (1, "one minute"),
        (2.5, "three minutes"),
        (12, "twelve minutes"),
        (25, "25 minutes"),
    ],
)
def test_minutes_in_words(minutes: float, words: str) -> None:
    assert minutes_in_words(minutes) == words


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (1.0, "all"),
        (0.98, "nearly all"),
        (0.7, "about two in three"),
        (0.5, "about half"),
        (0.42, "about two in five"),
        (0.34, "about one in three"),
        (0.05, "about one in 20"),
        (0.01, "fewer than one in fifty"),
    ],
)
def test_share_in_words(share: float, words: str) -> None:
    assert share_in_words(share) == words
