"""Which units a checklist covers. No database."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from diagnosis.coverage import NO_COMMON_WAY, OWN_KINDS, OWN_STEP, is_of_its_own_kind, refusal, what_it_leaves_out
from diagnosis.layout_plans import ChecklistPlan
from specs.facts import FACTS
from tests.shipped import shipped_folder


def step(only_if: Any = None, do: Any = (), services: Any = (), ends_search: Any = None) -> Any:
    return SimpleNamespace(only_if=only_if or {}, do=do, services=services, ends_search=ends_search or {})


PLAIN = step(do=["Wash it."])


@pytest.mark.parametrize(("fact", "value"), OWN_KINDS)
def test_a_kind_of_its_own_is_covered_only_where_the_checklist_asks_for_it(fact: str, value: Any) -> None:
    assert value in FACTS[fact].values
    facts = {"kind": "fork", fact: value}
    assert is_of_its_own_kind(facts)
    assert what_it_leaves_out([PLAIN], facts) == [OWN_KINDS[fact, value]]
    others = [other for other in FACTS[fact].values if other != value]
    assert what_it_leaves_out([step(only_if={fact: others})], facts) == [OWN_KINDS[fact, value]]
    for asks in (step(only_if={fact: [value]}), step(only_if={fact: value})):
        assert what_it_leaves_out([PLAIN, asks], facts) == []
    line = step(do=["Wash it.", {"text": "Turn it.", "when": {fact: [value, *others]}}])
    wanted = [OWN_KINDS[fact, value]] if (fact, value) in OWN_STEP else []
    assert what_it_leaves_out([PLAIN, line], facts) == wanted


@pytest.mark.parametrize("facts", [{}, {"kind": "fork"}, {"kind": "fork", "spring_kind": "coil"}, {"crowns": None}])
def test_what_is_usual_or_not_known_is_not_refused(facts: dict[str, Any]) -> None:
    assert not is_of_its_own_kind(facts)
    assert what_it_leaves_out([PLAIN], facts) == []


def test_a_service_of_the_air_can_is_none_of_a_coil_shock() -> None:
    coil = {"kind": "shock", "spring_kind": "coil"}
    can = step(only_if={"spring_kind": ["air"]}, services=["spring"])
    assert what_it_leaves_out([PLAIN, can], coil) == ["a coil shock"]
    assert what_it_leaves_out([PLAIN, can, step(ends_search={"worn": 0.5})], coil) == []
    assert what_it_leaves_out([PLAIN], coil) == []  # a list of proofs alone


def test_the_refusal_says_what_to_do_instead() -> None:
    said = refusal("Loses air", ["an inverted fork", "a fork with a twin crown"])
    assert "“Loses air” does not cover an inverted fork and a fork with a twin crown" in said
    assert "maker’s manual" in said


def test_a_coil_with_air_assist_is_refused_with_the_reason_and_what_comes_first() -> None:
    said = refusal("Loses air", [OWN_KINDS["spring_kind", "air_coil"]])
    assert "no way common to all makers" in said
    order = [said.index(words) for words in ("air out and proved out", "preload counted and backed off", "Both back")]
    assert order == sorted(order)
    assert "sag set with both" in said
    assert set(NO_COMMON_WAY) <= set(OWN_KINDS.values())
    for plan in shipped_folder().checklists:
        assert what_it_leaves_out(plan.steps, {"kind": "fork", "spring_kind": "air_coil"}), plan.key


SHIPPED = shipped_folder().checklists
INVERTED = {"routine-lowers-service"}
COIL = {
    "shock-sits-low", "shock-leaks-oil", "shock-knocks", "shock-harsh", "shock-coil-noise", "shock-full-service",
    "shock-hardware-service",
}  # fmt: skip


@pytest.mark.parametrize("plan", SHIPPED, ids=lambda plan: plan.key)
def test_what_each_shipped_checklist_covers(plan: ChecklistPlan) -> None:
    """A fork's lists cover a twin crown and a ramp-up chamber; others only where they say so."""
    if "fork" in plan.complaint.suits:
        assert what_it_leaves_out(plan.steps, {"kind": "fork", "crowns": "twin", "ramp_chamber": True}) == []
        left_out = what_it_leaves_out(plan.steps, {"kind": "fork", "inverted": True})
        assert left_out == ([] if plan.key in INVERTED else ["an inverted fork"])
    else:
        assert what_it_leaves_out(plan.steps, {"kind": "shock", "ramp_chamber": True}) == []
        left_out = what_it_leaves_out(plan.steps, {"kind": "shock", "spring_kind": "coil"})
        assert left_out == ([] if plan.key in COIL else ["a coil shock"])
