"""The plan of a search with what is opened and closed again counted: worked by hand, and against every order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import permutations
from typing import Any

import pytest

from diagnosis.planning import SearchPlan, plan_search
from diagnosis.unit_state import UnitState

FORK = {"kind": "fork", "spring_kind": "air"}
BELIEFS = {"seal": 0.5, "bushing": 0.5}


@dataclass
class AStep:
    key: str
    kind: str = "check"
    minutes: float = 5.0
    needs: tuple[str, ...] = ()
    ends_search: Mapping[str, float] = field(default_factory=dict)
    requires: Mapping[str, Any] = field(default_factory=dict)
    answers: Mapping[str, Any] = field(default_factory=dict)
    safety: bool = False
    opens: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    only_if: Mapping[str, Any] = field(default_factory=dict)
    do: tuple[str, ...] = ()
    bolts: tuple[str, ...] = ()
    frees_port: str = ""
    title: str = ""


WHEEL_OUT = AStep("wheel-out", "work", 4.0, answers={"done": {"leaves": {"wheel": "out"}}})
WHEEL_IN = AStep("wheel-in", "work", 3.0, answers={"done": {"leaves": {"wheel": "in"}}})
BUSHINGS = AStep("feel-bushings", minutes=5.0, ends_search={"bushing": 1.0}, requires={"wheel": ["out"]})
SEALS = AStep("look-at-seals", minutes=10.0, ends_search={"seal": 1.0})


def plan_of(*steps: AStep, unit: UnitState | None = None, beliefs: Mapping[str, float] = BELIEFS) -> SearchPlan | None:
    unit = unit or UnitState.as_it_came(FORK).after(WHEEL_IN, "done")
    return plan_search(steps, FORK, {}, beliefs=beliefs, minutes={}, predictions={}, unit=unit)


def minutes_by_hand(order: tuple[str, ...], wheel: str) -> float:
    """Expected minutes: each check while nothing was found yet, the wheel out before it and in after the end."""
    minutes, going_on = 0.0, 1.0
    for key in order:
        if key == "feel-bushings" and wheel == "in":
            minutes, wheel = minutes + going_on * 4.0, "out"
        minutes += going_on * (5.0 if key == "feel-bushings" else 10.0)
        found = BELIEFS["bushing" if key == "feel-bushings" else "seal"]
        minutes += found * (3.0 if wheel == "out" else 0.0)
        going_on -= found
    return minutes


def test_what_is_opened_for_a_check_and_closed_again_is_in_its_minutes() -> None:
    """By its own five minutes the bushings would be first; with the wheel they take longer than the seals."""
    plan = plan_of(WHEEL_OUT, WHEEL_IN, BUSHINGS, SEALS)
    assert plan is not None
    assert plan.counts_openings
    assert plan.suggested == ("look-at-seals", "wheel-out", "feel-bushings")
    assert plan.handbook == ("wheel-out", "feel-bushings", "look-at-seals")
    # 10 + half of (4 + 5 + 3), and 4 + 5 + half of 3 + half of (10 + 3).
    assert plan.reason.suggested_minutes == pytest.approx(16.0)
    assert plan.reason.handbook_minutes == pytest.approx(17.0)
    assert (plan.first_check, plan.reason.leads_to, plan.saves) == ("look-at-seals", None, True)
    assert set(plan.shares) == {"feel-bushings", "look-at-seals"}


@pytest.mark.parametrize("wheel", ["in", "out"])
def test_no_order_of_the_checks_takes_less(wheel: str) -> None:
    unit = UnitState.as_it_came(FORK).after(WHEEL_IN if wheel == "in" else WHEEL_OUT, "done")
    plan = plan_of(WHEEL_OUT, WHEEL_IN, BUSHINGS, SEALS, unit=unit)
    assert plan is not None
    of_all = {order: minutes_by_hand(order, wheel) for order in permutations(("feel-bushings", "look-at-seals"))}
    best = min(of_all, key=lambda order: of_all[order])
    assert tuple(key for key in plan.suggested if key in plan.shares) == best
    assert plan.reason.suggested_minutes == pytest.approx(of_all[best])


def test_the_first_step_on_the_way_says_where_it_leads() -> None:
    plan = plan_of(WHEEL_OUT, WHEEL_IN, BUSHINGS, beliefs={"bushing": 1.0})
    assert plan is not None
    assert plan.suggested == ("wheel-out", "feel-bushings")
    assert (plan.first_check, plan.reason.key, plan.reason.leads_to) == ("feel-bushings", "wheel-out", "feel-bushings")
    assert "Feel the bushings" in plan.why(
        "wheel-out", {"feel-bushings": "Feel the bushings", "wheel-out": "Wheel out"}
    )


def test_without_a_step_that_brings_it_about_there_is_no_plan() -> None:
    """Nothing here takes the wheel out, and nothing else can find a cause."""
    assert plan_of(BUSHINGS, WHEEL_IN, beliefs={"bushing": 1.0}) is None


def test_a_safety_step_keeps_its_place_before_what_comes_after_it() -> None:
    """All that is behind it in the handbook waits for it; what only opens the unit comes where it is asked for."""
    wear = AStep("eye-protection", "work", 1.0, safety=True)
    out = AStep("wheel-out", "work", 4.0, safety=True, answers=WHEEL_OUT.answers)
    needs_wear = AStep("look-at-seals", minutes=10.0, needs=("eye-protection",), ends_search={"seal": 1.0})
    plan = plan_of(wear, out, WHEEL_IN, BUSHINGS, needs_wear)
    assert plan is not None
    assert plan.suggested == ("eye-protection", "look-at-seals", "wheel-out", "feel-bushings")
    assert plan.reason.is_safety
