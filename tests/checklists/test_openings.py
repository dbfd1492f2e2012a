"""Walks by suggestions open nothing for nothing: no wheel out to be refitted, no air out to be filled in again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from diagnosis.layout import applies
from diagnosis.runs_rules import can_end_search, missing_needs, needs_of
from diagnosis.unit_order import asks_to_open, closes_nothing, opens_on_the_way, opens_up
from diagnosis.unit_state import UnitState
from tests.checklist_walks import UNITS, as_steps, ends_of
from tests.openings import answers_of, openings_of
from tests.shipped import shipped_folder

SEARCHES = tuple(
    plan.key for plan in shipped_folder().checklists if any(can_end_search(step) for step in as_steps(plan))
)
CIRCLIP = "air fork, circlip, bolts, bleed buttons"


def walks(key: str) -> Iterator[tuple[str, list[Any], list[tuple[str, str]]]]:
    plan = shipped_folder().checklist(key)
    for name, facts in UNITS.items():
        if facts["kind"] in plan.complaint.suits:
            steps = [step for step in as_steps(plan) if applies(step, facts) != "no"]
            for at in ends_of(as_steps(plan), facts, True, False):
                yield name, steps, answers_of(at.walk)


@pytest.mark.parametrize("key", SEARCHES)
def test_nothing_is_opened_that_serves_no_check_and_no_repair(key: str) -> None:
    opened = closed = counted = 0
    needless = []
    for name, steps, walk in walks(key):
        found = openings_of(walk, steps, UNITS[name])
        counted += 1
        opened += len(found)
        closed += len({place for one in found for place in one.closed.values()})
        needless += [f"{name}: {walk[one.place][0]} in {walk}" for one in found if not one.serves]
    print(f"{key}: {counted} walks, {opened} openings, {closed} closings, {len(needless)} for nothing")
    assert not needless, "\n".join(needless[:3])
    assert opened > counted


def steps_of(key: str, unit: str = CIRCLIP) -> dict[str, Any]:
    return {step.key: step for step in as_steps(shipped_folder().checklist(key)) if applies(step, UNITS[unit]) != "no"}


def walk_with(key: str, *answers: str) -> list[list[str]]:
    """The walks on the fork with a circlip in which these answers are given, and every proof holds."""
    found = [walk for name, _, walk in walks(key) if name == CIRCLIP]
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
    given = dict.fromkeys(("clean-lowers", "inspect-bushings", "foam-rings"), "done")
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
