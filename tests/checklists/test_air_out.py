"""How the air is let out: stroked with the core open, watched, and a way on where it still pulls. No database.

Numbers in a sentence are reckoned here by the model; the rest is common practice, no published source.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import pytest

from diagnosis.layout import applies, lines_for
from diagnosis.layout_plans import STILL_PULLING, ChecklistPlan, StepPlan
from diagnosis.runs_rules import needs_of, next_step, standing
from diagnosis.unit_parts import AS_IT_CAME, CHAMBERS, EMPTY, LOADED, PARTS, UNKNOWN
from diagnosis.unit_state import UnitState
from specs.facts import FACTS
from specs.physics.air_spring import AirSpring, after_strokes, emptied, equalised, stuck
from tests.checklist_walks import UNITS, as_steps
from tests.physics.springs import SPRING
from tests.published.free_body import Drawing
from tests.shipped import shipped_folder

SHIPPED = shipped_folder()
CONDITIONS = sorted({AS_IT_CAME, UNKNOWN, *PARTS[CHAMBERS[0]].values})
AIR_OUT = {"all-air-out": "loaded-chamber", "shock-all-air-out": "shock-loaded-chamber"}
LISTS = pytest.mark.parametrize("plan", SHIPPED.checklists, ids=lambda plan: plan.key)
PSI = 6894.757293168361  # NIST SP 811, appendix B.8
FORKS = [SPRING, Drawing().spring()]


def combinations_of(step: StepPlan, **given: Any) -> Iterator[dict[str, Any]]:
    """Every combination of the facts that the step asks, unknown among them, on which it is or may be done."""
    asked = sorted(({fact for line in step.do for fact in line.when} | set(step.only_if)) - given.keys())
    for values in itertools.product(*([*FACTS[fact].values, None] for fact in asked)):
        facts = {fact: value for fact, value in zip(asked, values, strict=True) if value is not None} | given
        if applies(step, facts) != "no":
            yield facts


def said_on(step: StepPlan, facts: Mapping[str, Any]) -> list[str]:
    answers = [words for answer in step.answers.values() for words in (answer.says, answer.cure)]
    return [step.title, *(line.text for line in lines_for(step, facts)), step.counts_as_found, *answers]


@LISTS
def test_what_does_not_level_by_itself_is_never_told_to_level_through_a_port(plan: ChecklistPlan) -> None:
    told = [
        (step.key, words)
        for step in plan.steps
        for facts in combinations_of(step, self_equalising=False)
        for words in said_on(step, facts)
        if re.search(r"\b(port|cycl\w*|equalis\w*)\b", words, re.IGNORECASE)
        and step.key
        not in {"free-the-wipers", "leak-or-film", "prove-dry", "bleed-again-after-cycling", "air-in-air-leg"}
    ]
    assert told == []


@pytest.mark.parametrize("key", AIR_OUT)
@pytest.mark.parametrize("levels", [True, False])
def test_the_core_is_held_open_to_the_end_and_then_somebody_watches(key: str, levels: bool) -> None:
    step = next(step for step in SHIPPED.shared_steps if step.key == key)
    facts = {"self_equalising": levels}
    said = " ".join(line.text for line in lines_for(step, facts))
    assert re.search(r"core stays open|core held open to the end", said)
    assert "at least ten times" in said if levels else "order of the maker’s manual" in said
    assert re.search(r"hands off.*a whole minute", said)


@pytest.mark.parametrize("key", AIR_OUT)
def test_air_that_still_pulls_has_its_own_answer_and_its_own_way_on(key: str) -> None:
    by_key = {step.key: step for step in SHIPPED.shared_steps}
    stop, way_on = by_key[key].answers[STILL_PULLING], by_key[AIR_OUT[key]]
    assert (stop.leaves["negative_air"], stop.next) == (LOADED, way_on.key)
    assert way_on.requires["negative_air"] == (LOADED,)
    assert way_on.answers["done"].next == key  # let out anew, never opened from here
    assert not {EMPTY} & {value for answer in way_on.answers.values() for value in answer.leaves.values()}
    assert way_on.answers[STILL_PULLING].call_customer


@LISTS
def test_every_list_that_lets_the_air_out_has_the_way_on(plan: ChecklistPlan) -> None:
    keys = [step.key for step in plan.steps]
    for out, way_on in AIR_OUT.items():
        assert (out in keys) == (way_on in keys)
        if out in keys:
            assert keys.index(way_on) == keys.index(out) + 1


@LISTS
def test_only_these_steps_say_that_the_air_is_out(plan: ChecklistPlan) -> None:
    emptying = {
        step.key
        for step in plan.steps
        for answer in step.answers.values()
        if EMPTY in (answer.leaves.get("positive_air"), answer.leaves.get("negative_air"))
    }
    assert emptying <= AIR_OUT.keys()


@pytest.mark.parametrize("fork", FORKS)
def test_one_stroke_with_the_core_let_go_leaves_about_a_sixth_and_the_fork_stays_put(fork: AirSpring) -> None:
    """The sentence beside the step: it looks quiet at full length and is not."""
    for key in AIR_OUT:
        step = next(step for step in SHIPPED.shared_steps if step.key == key)
        assert any("about a sixth of the pressure in both chambers" in words for words in step.look_for)
    first, *_, tenth = after_strokes(fork, equalised(fork, 80 * PSI), 10, vent_travel_m=0.0)
    assert 1 / 8 < first / (80 * PSI) < 1 / 5
    assert tenth < 80 * PSI / 100  # ten strokes are enough even where the core is let go each time


@pytest.mark.parametrize("fork", FORKS)
def test_a_stuck_fork_emptied_goes_to_its_bottom_with_air_in_the_negative_chamber(fork: AirSpring) -> None:
    """Why going down is a reason to stop: no pull by hand brings it to full length."""
    found = emptied(fork, stuck(fork, 80 * PSI, 0.4))
    assert found.rest_travel_m.mid > 0.9 * fork.travel_m
    assert found.negative_pa.mid > 40 * PSI


def test_a_shock_stays_in_the_frame_until_its_air_is_out() -> None:
    for key in ("shock-sits-low", "shock-loses-air", "shock-air-can-service"):
        plan = SHIPPED.checklist(key)
        keys = [step.key for step in plan.steps]
        assert keys.index("shock-all-air-out") < keys.index("shock-out-of-frame") < keys.index("shock-can-off")
        out = plan.step("shock-out-of-frame")
        assert "shock-all-air-out" in out.needs
        assert (out.requires["positive_air"], out.requires["negative_air"]) == ((EMPTY,), (EMPTY,))
        assert {"trapped-air", "compressed-air"} <= {caution.key for caution in out.cautions}


def test_the_way_on_from_a_shock_says_why_nobody_opens_its_can_by_hand() -> None:
    step = next(step for step in SHIPPED.shared_steps if step.key == "shock-loaded-chamber")
    assert any("opens such a can by hand" in line.text for line in step.do)


def walk(plan: ChecklistPlan, facts: Mapping[str, Any], odd: Mapping[str, list[str]]) -> list[str]:
    """What is suggested one after the other; answers are plain but for those of `odd`, the first time round."""
    steps = [step for step in as_steps(plan) if applies(step, facts) != "no"]
    needs, by_key = needs_of(steps, facts), {step.key: step for step in steps}
    waiting = {key: list(outcomes) for key, outcomes in odd.items()}
    given: dict[str, str] = {}
    unit, found = UnitState.as_it_came(facts), []
    plain = {"check": "ruled_out", "work": "done", "proof": "proved"}
    while (coming := next_step(steps, facts, standing(steps, given, unit), needs=needs, unit=unit)) is not None:
        step = by_key[coming.key]
        outcome = waiting[step.key].pop(0) if waiting.get(step.key) else plain[step.kind]
        found.append(f"{step.key}:{outcome}")
        given.pop(step.key, None)
        given[step.key] = outcome
        unit = unit.after(step, outcome)
        assert len(found) < 200, found
    assert unit.conditions["negative_air"] != LOADED
    return found


# Where nothing is found, nothing is opened.
KEEPS_ITS_AIR = {"after-a-crash", "lockout-fails", "steering-creaks", "shock-leaks-oil"}


@LISTS
def test_the_way_on_is_suggested_only_where_it_still_pulls_and_leads_back_to_letting_it_out(
    plan: ChecklistPlan,
) -> None:
    shock = plan.complaint.suits == ("shock",)
    facts = {"kind": "shock", "spring_kind": "air"} if shock else next(iter(UNITS.values()))
    out = "shock-all-air-out" if shock else "all-air-out"
    plain = walk(plan, facts, {})
    assert not any(entry.startswith(AIR_OUT[out]) for entry in plain)
    assert (f"{out}:done" in plain) == (plan.key not in KEEPS_ITS_AIR)
    if plan.key in KEEPS_ITS_AIR:
        return
    pulled = walk(plan, facts, {out: [STILL_PULLING]})
    at = pulled.index(f"{out}:{STILL_PULLING}")
    assert pulled[at + 1 : at + 3] == [f"{AIR_OUT[out]}:done", f"{out}:done"]


def test_a_chamber_that_pulls_holds_back_whatever_opens() -> None:
    plan, facts = SHIPPED.checklist("sits-low"), next(iter(UNITS.values()))
    steps = {step.key: step for step in as_steps(plan)}
    unit = UnitState.as_it_came(facts).after(steps["all-air-out"], STILL_PULLING)
    assert unit.may_be_under_pressure == ["negative_air"]
    for key in ("foot-fasteners-off", "air-spring-out"):
        assert any(unmet.is_danger and unmet.now == LOADED for unmet in unit.unmet(steps[key]))
    assert "negative_air" in unit.open_parts  # it cannot be ready like this


@LISTS
def test_a_step_lacks_a_loaded_chamber_where_it_asks_for_nothing_else_and_none_is(plan: ChecklistPlan) -> None:
    """The short way to what the unmet requirements say, for every step and every condition of the chambers."""
    seen = set()
    for facts in UNITS.values():
        came = UnitState.as_it_came(facts)
        chambers = [part for part in CHAMBERS if part in came.conditions]
        for part, value in itertools.product(chambers, CONDITIONS):
            unit = replace(came, conditions={**came.conditions, **dict.fromkeys(chambers, LOADED), part: value})
            for step in as_steps(plan):
                asks = any(one.asks_for_a_loaded_chamber for one in unit.unmet(step))
                assert unit.lacks_a_loaded_chamber(step) == asks, (step.key, value)
                seen.add(asks)
    if any(step.key in AIR_OUT.values() for step in plan.steps):
        assert seen == {True, False}
