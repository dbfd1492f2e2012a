"""Walks by suggestions open nothing for nothing: no wheel out to be refitted, no air out to be filled in again.

That no walk of any list does, with every proof failing once, is asked in test_walks.py, which walks them all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from diagnosis.layout import applies
from diagnosis.layout_plans import CHECK
from diagnosis.openings import PLAIN
from diagnosis.planning import causes_within_reach, plan_search
from diagnosis.runs_rules import can_end_search, missing_needs, needs_of, next_step, standing
from diagnosis.unit_order import asks_to_open, closes_nothing, opens_on_the_way, opens_up
from diagnosis.unit_parts import PARTS, allowed_values
from diagnosis.unit_state import UnitState, dangers, state_after
from tests.checklist_walks import LONGEST, UNITS, as_steps, ends_of
from tests.openings import answers_of, openings_of
from tests.shipped import shipped_folder

SEARCHES = tuple(
    plan.key for plan in shipped_folder().checklists if any(can_end_search(step) for step in as_steps(plan))
)
CIRCLIP = "air fork, circlip, bolts, bleed buttons"


def suggested_walks(key: str, name: str) -> Iterator[list[tuple[str, str]]]:
    """The walks of a checklist in the suggested order: each check finds once, every proof holds."""
    steps, facts = as_steps(shipped_folder().checklist(key)), UNITS[name]
    kept = [step for step in steps if applies(step, facts) != "no"]
    by_key, needs = {step.key: step for step in kept}, needs_of(steps, facts)
    beliefs = chances_of(key, steps, facts)
    waiting: list[tuple[dict[str, str], UnitState, list[tuple[str, str]]]] = [({}, UnitState.as_it_came(facts), [])]
    while waiting:
        given, unit, walk = waiting.pop()
        stand = standing(kept, given, unit)
        plan = plan_search(
            steps, facts, stand, beliefs=beliefs, minutes={}, predictions={}, unit=unit
        )  # fmt: skip
        coming = next_step(kept, facts, stand, needs=needs, unit=unit)
        if coming is None:
            yield walk
            continue
        step = by_key[plan.suggested[0] if plan is not None else coming.key]
        assert len(walk) < LONGEST, walk
        assert not [unmet for unmet in unit.unmet(step) if unmet.is_danger], (step.key, walk)
        assert plan is None or not unit.unmet(step), (step.key, walk)  # nothing that shows nothing as the unit is
        outcomes = [PLAIN[step.kind]]
        if step.kind == CHECK and "found" not in given.values():
            outcomes.append("found")
        for outcome in outcomes:
            assert not dangers(unit, step, outcome)
            rest = {other: answer for other, answer in given.items() if other != step.key}
            waiting.append(({**rest, step.key: outcome}, unit.after(step, outcome), [*walk, (step.key, outcome)]))


def chances_of(key: str, steps: list[Any], facts: Mapping[str, Any]) -> dict[str, float]:
    causes = {cause.key: cause.prior for cause in shipped_folder().checklist(key).causes}
    reach = causes_within_reach(steps, facts, causes)
    return {cause: weight / sum(reach.values()) for cause, weight in reach.items()}


@pytest.mark.parametrize("key", SEARCHES)
def test_in_the_suggested_order_neither_and_it_ends_closed(key: str) -> None:
    plan, counted = shipped_folder().checklist(key), 0
    for name, facts in UNITS.items():
        if facts["kind"] not in plan.complaint.suits:
            continue
        steps = [step for step in as_steps(plan) if applies(step, facts) != "no"]
        for walk in suggested_walks(key, name):
            counted += 1
            found = openings_of(walk, steps, facts)
            assert all(one.serves for one in found), (name, walk)
            unit = state_after(facts, [({s.key: s for s in steps}[step], outcome) for step, outcome in walk])
            assert not [part for part in unit.open_parts if not PARTS[part].finding], (name, walk)
            assert_harmless_first(walk, as_steps(plan), facts)
    assert counted >= 8


def assert_harmless_first(walk: list[tuple[str, str]], steps: list[Any], facts: Mapping[str, Any]) -> None:
    """No check that can be made on the unit as it came is left for when the unit is open."""
    by_key, needs = {step.key: step for step in steps}, needs_of(steps, facts)
    checks = [key for key, _ in walk if can_end_search(by_key[key])]
    inside = {key for key in checks if any(_asks_for_inside(by_key[key], part) for part in by_key[key].requires)}
    first = next((place for place, key in enumerate(checks) if key in inside), len(checks))
    late = [
        key
        for key in checks[first:]
        if key not in inside
        and not asks_to_open(by_key[key], UnitState.as_it_came(facts))
        and not any(_changes_the_unit(by_key[need]) for need in _rests_on(key, needs))
    ]
    assert not late, (checks, late)


def _asks_for_inside(step: Any, part: str) -> bool:
    one = PARTS[part]
    return (one.bears or one.chamber) and not set(one.closed) & allowed_values(part, step.requires[part])


def _changes_the_unit(step: Any) -> bool:
    return step.kind != CHECK and any(answer.get("leaves") for answer in step.answers.values())


def _rests_on(key: str, needs: Mapping[str, frozenset[str]]) -> set[str]:
    found: set[str] = set()
    waiting = [key]
    while waiting:
        fresh = needs[waiting.pop()] - found
        found |= fresh
        waiting += fresh
    return found


def steps_of(key: str, unit: str = CIRCLIP) -> dict[str, Any]:
    return {step.key: step for step in as_steps(shipped_folder().checklist(key)) if applies(step, UNITS[unit]) != "no"}


def walk_with(key: str, *answers: str) -> list[list[str]]:
    """The walks on the fork with a circlip in which these answers are given, and every proof holds."""
    steps = as_steps(shipped_folder().checklist(key))
    found = [answers_of(at.walk) for at in ends_of(steps, UNITS[CIRCLIP], True, False)]
    wanted = {tuple(answer.split(": ")) for answer in answers}
    proved = [walk for walk in found if "not_proved" not in {outcome for _, outcome in walk}]
    return [[step for step, _ in walk] for walk in proved if wanted <= set(walk)]


def test_when_the_settings_were_the_cause_the_wheel_stays_in() -> None:
    (walk,) = walk_with("harsh-or-sticky", "settings-check: found")
    assert not {"wheel-out", "all-air-out", "fill-in-stages", "refit-brake-wheel", "lowers-off"} & set(walk)


def test_a_cap_that_was_dry_is_not_sealed_anew_and_the_air_is_let_out_once() -> None:
    for walk in walk_with("loses-air", "inspect-piston-seals: found"):
        assert "top-cap-reseal" not in walk
        assert walk.count("all-air-out") == walk.count("fill-in-stages") == walk.count("wheel-out") == 1


def test_a_cap_that_leaks_is_sealed_without_taking_out_the_wheel() -> None:
    (walk,) = walk_with("loses-air", "soap-top-cap: found")
    assert walk.index("all-air-out") < walk.index("top-cap-reseal") < walk.index("fill-in-stages")
    assert "wheel-out" not in walk


def test_the_lowers_go_on_without_a_spring_that_was_never_taken_out() -> None:
    steps = steps_of("harsh-or-sticky")
    needs = needs_of(list(steps.values()), UNITS[CIRCLIP])
    unit = UnitState.as_it_came(UNITS[CIRCLIP])
    for key in ("wheel-out", "caliper-off", "all-air-out", "foot-fasteners-off", "lowers-off"):
        unit = unit.after(steps[key], "done")
    given = dict.fromkeys(("clean-lowers", "inspect-bushings", "fit-wipers", "foam-rings"), "done")
    assert not missing_needs("lowers-on", list(steps.values()), needs, given, unit)
    assert [step.key for step in missing_needs("lowers-on", list(steps.values()), needs, given)] == [
        "air-spring-in", "prove-circlip-seat",
    ]  # fmt: skip
    out = unit.after(steps["air-spring-out"], "done")
    assert len(missing_needs("lowers-on", list(steps.values()), needs, given, out)) == 2


def test_a_check_after_the_rebuild_still_asks_for_the_rebuild() -> None:
    """With the knob on as it came nothing was rebuilt, so what the check needs is not there."""
    steps = steps_of("sits-low")
    needs = needs_of(list(steps.values()), UNITS[CIRCLIP])
    unit = UnitState.as_it_came(UNITS[CIRCLIP])
    missing = [step.key for step in missing_needs("recheck-after-rebuild", list(steps.values()), needs, {}, unit)]
    assert {"knob-on", "fill-in-stages"} <= set(missing)


def test_what_opens_and_what_closes_is_read_from_the_unit_as_it_is() -> None:
    steps = steps_of("loses-air")
    unit = UnitState.as_it_came(UNITS[CIRCLIP])
    assert opens_up(steps["wheel-out"], unit)
    assert opens_up(steps["all-air-out"], unit)
    assert asks_to_open(steps["clean-lowers"], unit)
    assert opens_on_the_way(steps["top-cap-reseal"], unit)
    assert closes_nothing(steps["fill-in-stages"], unit)
    assert closes_nothing(steps["refit-brake-wheel"], unit)
    assert not closes_nothing(steps["new-spring-seals"], unit)  # new seals close no part
    opened = unit.after(steps["wheel-out"], "done").after(steps["all-air-out"], "done")
    assert not opens_up(steps["wheel-out"], opened)
    assert not asks_to_open(steps["caliper-off"], opened)
    assert not closes_nothing(steps["fill-in-stages"], opened)
    assert not closes_nothing(steps["refit-brake-wheel"], opened)
    assert not opens_up(steps["inspect-bushings"], unit)
