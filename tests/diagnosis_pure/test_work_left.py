"""What is left of a run: what was opened again counts again, and after the cause only what leads to ready."""

from __future__ import annotations

from typing import Any

from diagnosis.runs_rules import next_step, standing
from diagnosis.unit_state import UnitState, state_after
from diagnosis.work_left import steps_left
from tests.checklist_walks import UNITS, as_steps
from tests.shipped import shipped_folder

FACTS = UNITS["air fork, circlip, bolts, bleed buttons"]


def left_after(key: str, *answers: str) -> tuple[list[str], list[Any], dict[str, str], UnitState]:
    """The steps left after these answers, the steps, the answers and the unit."""
    steps = as_steps(shipped_folder().checklist(key))
    by_key = {step.key: step for step in steps}
    given: dict[str, str] = {}
    for answer in answers:
        step, _, outcome = answer.partition(": ")
        given.pop(step, None)
        given[step] = outcome or "done"
    unit = state_after(FACTS, [(by_key[a.partition(": ")[0]], a.partition(": ")[2] or "done") for a in answers])
    return [step.key for step in steps_left(steps, FACTS, given, unit)], steps, given, unit


def test_while_the_search_is_on_every_open_step_is_left() -> None:
    left, *_ = left_after("loses-air", "record-arrival", "arrival-pressure")
    assert {"soap-valve", "wheel-out", "fill-in-stages", "test-ride"} <= set(left)
    assert "record-arrival" not in left


def test_what_is_open_again_is_left_again() -> None:
    closed, *_ = left_after("loses-air", "wheel-out", "refit-brake-wheel: done", "all-air-out", "fill-in-stages")
    assert not {"refit-brake-wheel", "fill-in-stages"} & set(closed)
    opened, *_ = left_after(
        "loses-air", "wheel-out", "refit-brake-wheel: done", "all-air-out", "fill-in-stages", "all-air-out", "wheel-out"
    )
    assert {"refit-brake-wheel", "fill-in-stages"} <= set(opened)


def test_after_a_cause_that_opens_nothing_only_the_proofs_are_left() -> None:
    left, steps, *_ = left_after(
        "harsh-or-sticky", "record-arrival", "arrival-pressure", "record-clicks", "settings-check: found"
    )
    by_key = {step.key: step for step in steps}
    assert not {"wheel-out", "lowers-off", "fill-in-stages"} & set(left)
    assert {"prove-brakes", "test-ride"} <= set(left)
    assert sum(by_key[key].minutes for key in left) < 60


def test_after_the_cause_it_is_the_walk_that_the_suggestions_lead() -> None:
    left, steps, given, unit = left_after(
        "loses-air", "record-arrival", "arrival-pressure", "record-clicks", "prove-the-loss: ruled_out",
        "soap-valve: ruled_out", "soap-top-cap: found",
    )  # fmt: skip
    coming = next_step(steps, FACTS, standing(steps, given, unit), unit=unit)
    assert coming is not None
    assert left[0] == coming.key
    assert left.index("all-air-out") < left.index("top-cap-reseal") < left.index("fill-in-stages")
    assert len(left) == len(set(left))


def test_without_the_state_no_answer_is_open_again_and_no_more_checks_are_made_after_a_finding() -> None:
    steps = as_steps(shipped_folder().checklist("loses-air"))
    left = {step.key for step in steps_left(steps, FACTS, {"soap-valve": "found", "wheel-out": "done"}, None)}
    assert "soap-top-cap" not in left
    assert "wheel-out" not in left
    assert "fill-in-stages" in left
