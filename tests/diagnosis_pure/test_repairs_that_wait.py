"""A repair that waits for a finding: on a sound unit nobody is sent to it, and its minutes are not counted."""

from __future__ import annotations

from typing import Any

from diagnosis.runs_rules import next_step, standing, without_idle_repairs
from diagnosis.unit_state import UnitState
from diagnosis.work_left import steps_left
from tests.checklist_walks import UNITS, as_steps, ends_of
from tests.shipped import shipped_folder

FORK = UNITS["air fork, circlip, bolts, bleed buttons"]
CRASH, WAITING = "after-a-crash", "damaged-part-replaced"


def steps_of(key: str) -> list[Any]:
    return as_steps(shipped_folder().checklist(key))


def test_without_a_finding_no_walk_comes_to_it() -> None:
    for at in ends_of(steps_of(CRASH), FORK, True, False):
        keys = [entry.split(": ")[0] for entry in at.walk]
        found = [entry.split(": ")[0] for entry in at.walk if entry.endswith(": found")]
        named = {
            key for step in steps_of(CRASH) if step.key in found for key in (step.answers["found"].get("repair") or ())
        }
        assert (WAITING in keys) == (WAITING in named), at.walk


def test_it_comes_next_once_a_finding_names_it_and_counts_from_then_on() -> None:
    steps = steps_of(CRASH)
    order = [step.key for step in steps]
    before = {key: "ruled_out" for key in order[: order.index("crash-steerer")] if key.startswith("crash-")}
    sound = [step.key for step in steps_left(steps, FORK, before, UnitState.as_it_came(FORK))]
    assert WAITING not in sound
    hurt = {**before, "crash-crown": "found"}
    assert WAITING in [step.key for step in steps_left(steps, FORK, hurt, UnitState.as_it_came(FORK))]


def test_one_that_was_done_all_the_same_stays() -> None:
    steps = steps_of(CRASH)
    assert WAITING not in {step.key for step in without_idle_repairs(steps, {})}
    assert WAITING in {step.key for step in without_idle_repairs(steps, {WAITING: "done"})}
    assert WAITING in {step.key for step in without_idle_repairs(steps, {"crash-bars": "found"})}


def test_in_a_search_the_cause_leads_to_its_repair() -> None:
    steps = steps_of("lockout-fails")
    given = {"record-arrival": "done", "arrival-pressure": "done", "record-clicks": "done", "remote-lever": "found"}
    coming = next_step(steps, FORK, given, unit=UnitState.as_it_came(FORK))
    assert coming is not None
    assert coming.key == "remote-renewed"


def test_one_that_was_done_before_its_finding_is_asked_again() -> None:
    """Somebody pressed it in passing: what was found since is not put right by that."""
    steps, unit = steps_of(CRASH), UnitState.as_it_came(FORK)
    for early in ("done", "left_out"):
        given = {WAITING: early, "crash-crown": "found"}
        assert standing(steps, given, unit) == {"crash-crown": "found"}
        assert WAITING in [step.key for step in steps_left(steps, FORK, given, unit)]
    later = {"crash-crown": "found", WAITING: "done"}
    assert standing(steps, later, unit) == later
