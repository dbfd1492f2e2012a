"""Safety steps keep their place before the steps that follow them."""

from diagnosis.ordering import SearchStep, best_order, handbook_order, remaining_steps, with_pinned

BELIEFS = {"scratch": 0.5, "bushing": 0.5}
LOOK = SearchStep("look", 20.0, frozenset(), {"scratch": 0.2})
VENT = SearchStep("vent", 3.0, frozenset(), {})
STRIP = SearchStep("strip", 5.0, frozenset(), {"bushing": 0.9})
STEPS = (LOOK, VENT, STRIP)


def test_nothing_that_follows_a_safety_step_overtakes_it() -> None:
    assert best_order(STEPS, BELIEFS) == ("strip", "look", "vent")
    assert best_order(STEPS, BELIEFS, pinned={"vent"}) == ("vent", "strip", "look")


def test_a_safety_step_is_a_prerequisite_of_all_that_follow_it_only() -> None:
    look, vent, strip = with_pinned(STEPS, {"vent"})
    assert (look.needs, vent.needs, strip.needs) == (frozenset(), frozenset(), frozenset({"vent"}))


def test_two_safety_steps_keep_their_own_order() -> None:
    held = with_pinned((VENT, LOOK, STRIP), ["vent", "look"])
    assert [step.needs for step in held] == [frozenset(), {"vent"}, {"vent", "look"}]


def test_handbook_order_waits_for_prerequisites() -> None:
    steps = (SearchStep("strip", 5.0, frozenset({"vent"}), {}), VENT, LOOK)
    assert handbook_order(steps) == ("vent", "strip", "look")


def test_done_steps_are_left_out_and_no_longer_needed() -> None:
    steps = (LOOK, VENT, SearchStep("strip", 5.0, frozenset({"vent", "look"}), {}))
    (look, strip) = remaining_steps(steps, {"vent"})
    assert (look.key, strip.key, strip.needs) == ("look", "strip", frozenset({"look"}))
