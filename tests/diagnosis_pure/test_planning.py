"""The plan of a search: what is planned, what each answer and the spring's readings change, and why a step is next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import permutations
from typing import Any

import pytest

from diagnosis.ordering import SearchStep, expected_minutes
from diagnosis.planning import SearchPlan, causes_within_reach, leads_by_the_way, plan_search
from diagnosis.spring_answer import Verdict
from diagnosis.spring_chances import Prediction, predictions_for
from tests.lawful_orders import keeps_prerequisites

BELIEFS = {"port": 0.5, "vacuum": 0.3, "bushing": 0.2}


@dataclass
class AStep:
    key: str
    kind: str = "check"
    minutes: float = 5.0
    needs: tuple[str, ...] = ()
    ends_search: Mapping[str, float] = field(default_factory=dict)
    safety: bool = False
    only_if: Mapping[str, Any] = field(default_factory=dict)
    answers: Mapping[str, Any] = field(default_factory=dict)
    do: tuple[str, ...] = ()
    bolts: tuple[str, ...] = ()
    requires: Mapping[str, Any] = field(default_factory=dict)
    opens: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    frees_port: str = ""
    title: str = ""

    def __post_init__(self) -> None:
        self.title = self.key.replace("-", " ").capitalize()


STEPS = [
    AStep("arrive", "work", 4.0, safety=True),
    AStep("look", minutes=4.0, needs=("arrive",)),  # finds something by the way at most
    AStep("bleed-legs", minutes=20.0, needs=("arrive",), ends_search={"vacuum": 0.9}),
    AStep("free-port-by-hand", minutes=8.0, needs=("arrive",), ends_search={"port": 0.5}, frees_port="by_hand"),
    AStep("lowers-off", "work", 10.0, needs=("arrive",)),
    AStep("inspect-bushings", minutes=5.0, needs=("lowers-off",), ends_search={"bushing": 0.9}),
    AStep("inspect-port", minutes=5.0, needs=("lowers-off",), ends_search={"port": 0.9}),
    AStep("lowers-on", "work", 10.0, needs=("lowers-off",)),
    AStep("prove-rest", "proof", 3.0),
]


def planned(
    outcomes: Mapping[str, str] | None = None,
    *,
    predictions: Mapping[str, Prediction] | None = None,
    beliefs: Mapping[str, float] = BELIEFS,
    minutes: Mapping[str, float] | None = None,
) -> SearchPlan | None:
    return plan_search(STEPS, {}, outcomes or {}, beliefs=beliefs, minutes=minutes or {}, predictions=predictions or {})


def the_plan(*args: Any, **more: Any) -> SearchPlan:
    plan = planned(*args, **more)
    assert plan is not None
    return plan


def test_only_checks_that_can_find_a_cause_and_what_they_need_are_planned() -> None:
    plan = the_plan()
    assert plan.handbook == (
        "arrive", "bleed-legs", "free-port-by-hand", "lowers-off", "inspect-bushings", "inspect-port",
    )  # fmt: skip
    assert set(plan.suggested) == set(plan.handbook)
    assert plan.suggested[0] == "arrive"


def test_the_suggested_order_is_the_best_of_all_orders_that_keep_the_needs() -> None:
    plan = the_plan()
    steps = [
        SearchStep(step.key, step.minutes, frozenset(step.needs), step.ends_search)
        for step in STEPS
        if step.key in plan.handbook
    ]
    lawful = [order for order in permutations(plan.handbook) if keeps_prerequisites(order, steps)]
    least = min(expected_minutes(order, steps, BELIEFS) for order in lawful)
    assert plan.reason.suggested_minutes == pytest.approx(least)
    assert expected_minutes(plan.suggested, steps, BELIEFS) == pytest.approx(least)
    assert plan.reason.handbook_minutes == pytest.approx(expected_minutes(plan.handbook, steps, BELIEFS))
    assert plan.saves


def test_an_answer_changes_what_is_expected_by_bayes_rule() -> None:
    plan = the_plan({"arrive": "done", "free-port-by-hand": "ruled_out"})
    assert plan.beliefs == pytest.approx({"port": 0.25 / 0.75, "vacuum": 0.3 / 0.75, "bushing": 0.2 / 0.75})
    assert "free-port-by-hand" not in plan.suggested
    assert plan.shares["bleed-legs"] == pytest.approx(0.9 * 0.3 / 0.75)


def test_work_done_and_cant_tell_say_nothing_of_the_cause() -> None:
    assert the_plan({"arrive": "done", "lowers-off": "done", "inspect-port": "cant_tell"}).beliefs == BELIEFS


def test_a_finding_by_the_way_says_nothing_of_the_cause() -> None:
    assert the_plan({"arrive": "done", "look": "found"}).beliefs == BELIEFS


def test_when_a_cause_is_found_there_is_nothing_to_plan() -> None:
    assert planned({"arrive": "done", "bleed-legs": "found"}) is None


def test_a_proof_that_failed_starts_the_search_again_without_what_was_found() -> None:
    plan = the_plan({"arrive": "done", "bleed-legs": "found", "prove-rest": "not_proved"})
    assert "bleed-legs" not in plan.suggested
    assert plan.beliefs["vacuum"] == pytest.approx(0.03 / 0.73)


def test_when_nothing_left_can_find_a_cause_there_is_no_plan() -> None:
    left = {step.key: "cant_tell" for step in STEPS if step.ends_search}
    assert planned({"arrive": "done", "lowers-off": "done"} | left) is None
    assert planned(beliefs={}) is None


def test_answers_that_no_cause_explains_are_said_and_the_search_goes_on() -> None:
    plan = plan_search(
        [AStep("sure", ends_search={"port": 1.0}), AStep("again", ends_search={"port": 0.5})], {},
        {"sure": "ruled_out"}, beliefs={"port": 1.0}, minutes={}, predictions={},
    )  # fmt: skip
    assert plan is not None
    assert (plan.contradicted_at, plan.suggested) == ("sure", ("again",))


def test_safety_work_left_out_is_still_to_be_done() -> None:
    assert the_plan({"arrive": "left_out"}).suggested[0] == "arrive"


def test_the_shops_own_minutes_count() -> None:
    assert the_plan({"arrive": "done"}).suggested[0] == "lowers-off"
    assert the_plan({"arrive": "done"}, minutes={"bleed-legs": 1.0}).suggested[0] == "bleed-legs"


class TestReadings:
    def test_a_step_that_will_work_is_worth_more(self) -> None:
        plan = the_plan({"arrive": "done"}, predictions=predictions_for(Verdict.STUCK_PULLS_FREE, STEPS))
        assert plan.shares["free-port-by-hand"] == pytest.approx(0.5 * 0.8)
        assert plan.why("free-port-by-hand", {}) == "The readings say one person can pull it free."

    def test_a_step_that_will_fail_is_only_looked_at_and_the_reason_says_so(self) -> None:
        plan = the_plan({"arrive": "done"}, predictions=predictions_for(Verdict.STUCK_LOWERS_OFF, STEPS))
        assert plan.shares["free-port-by-hand"] == pytest.approx(0.5 * 0.5 * 0.05)
        assert plan.minutes["free-port-by-hand"] == 0.5
        assert "answer “Can’t tell” and go on" in plan.why("free-port-by-hand", {})

    def test_inflating_is_predicted_to_fail_only_when_pressure_cannot_free_it(self) -> None:
        pull, pump = AStep("pull", frees_port="by_hand"), AStep("pump-up", frees_port="at_maximum")

        def works(verdict: Verdict) -> dict[str, bool]:
            return {key: one.works for key, one in predictions_for(verdict, [AStep("look"), pull, pump]).items()}

        assert works(Verdict.STUCK_PULLS_FREE) == {"pull": True}
        assert works(Verdict.STUCK_PRESSURE_FREES) == {"pull": False, "pump-up": True}
        assert works(Verdict.STUCK_BOTH_FREE) == {"pull": False, "pump-up": True}
        assert works(Verdict.STUCK_LOWERS_OFF) == {"pull": False, "pump-up": False}

    @pytest.mark.parametrize("verdict", list(Verdict))
    def test_no_prediction_says_that_there_is_no_need_to_try(self, verdict: Verdict) -> None:
        """A seal may stick less than computed, and a try is cheaper than taking the fork apart."""
        ways = [AStep("pull", frees_port="by_hand"), AStep("pump-up", frees_port="at_maximum")]
        for prediction in predictions_for(verdict, ways).values():
            assert "no need to try" not in prediction.says

    @pytest.mark.parametrize("verdict", [None, Verdict.HEALTHY, Verdict.CONTRADICTION])
    def test_readings_that_say_nothing_of_a_step_change_nothing(self, verdict: Verdict | None) -> None:
        assert the_plan(predictions=predictions_for(verdict, STEPS)) == the_plan()


class TestReasons:
    def test_the_next_step_says_its_minutes_and_how_many_it_settles(self) -> None:
        assert (
            the_plan({"arrive": "done"}).why("free-port-by-hand", {})
            == "Eight minutes, settles about one in four of these."
        )

    def test_so_does_a_check_that_the_handbook_has_next(self) -> None:
        assert the_plan({"arrive": "done"}).why("bleed-legs", {}) == "20 minutes, settles about one in four of these."

    def test_a_step_that_is_not_planned_has_none(self) -> None:
        assert the_plan().why("look", {}) == ""


def test_causes_that_no_step_can_find_on_this_unit_are_out_of_reach() -> None:
    steps = [
        AStep("coil-check", only_if={"spring_kind": ["coil"]}, ends_search={"soft-coil": 0.9}),
        AStep("bleed-legs", ends_search={"vacuum": 0.9, "bushing": 0.0}),
    ]
    priors = {"soft-coil": 1.0, "vacuum": 2.0, "bushing": 1.0}
    assert causes_within_reach(steps, {"spring_kind": "air"}, priors) == {"vacuum": 2.0}
    assert causes_within_reach(steps, {}, priors) == {"soft-coil": 1.0, "vacuum": 2.0}


def test_a_finding_by_the_way_leads_on_before_the_plan_does() -> None:
    steps = [AStep("look", answers={"found": {"next": "strip"}}), AStep("strip", "work")]
    assert leads_by_the_way(steps, {"look": "found"})
    assert not leads_by_the_way(steps, {"strip": "done", "look": "ruled_out"})
    assert not leads_by_the_way(steps, {"look": "found", "strip": "done"})
    assert not leads_by_the_way(steps, {})
