"""The list of steps by phases: which step belongs where follows from what it declares."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnosis.runs_state import StepState
from tests.shipped import shipped_checklist, shipped_folder
from workshop.bench.phases import PHASES, phase_of, phases_of

KEYS = [plan.key for plan in shipped_folder().checklists]
IN_SITS_LOW = {
    "record-arrival": "look",
    "inspect-stanchions": "look",
    "clean-outside": "clean",
    "pressure-and-cycle": "air",
    "all-air-out": "air",
    "wheel-out": "strip",
    "lowers-off": "strip",
    "inspect-port": "inspect",
    "grease-spring": "rebuild",
    "lowers-on": "rebuild",
    "refit-brake-wheel": "rebuild",
    "prove-rest": "prove",
}


def test_the_steps_of_a_search_fall_into_the_phases_of_a_job(db: None) -> None:
    steps = {step.key: step for step in shipped_checklist("sits-low").steps.all()}
    assert {key: phase_of(steps[key]) for key in IN_SITS_LOW} == IN_SITS_LOW


@pytest.mark.parametrize("key", KEYS)
def test_every_step_of_a_shipped_list_has_a_phase_and_only_proofs_prove(db: None, key: str) -> None:
    for step in shipped_checklist(key).steps.all():
        phase = phase_of(step)
        assert phase in PHASES
        assert (phase == "prove") == (step.kind == "proof"), step.key
        assert (phase == "inspect") <= (step.kind == "check"), step.key
        assert (phase in {"strip", "clean", "rebuild"}) <= (step.kind == "work"), step.key


def _state(key: str, kind: str, *, is_done: bool = False) -> StepState:
    step = SimpleNamespace(key=key, kind=kind, readings=[], requires={}, opens=[], answers={})
    return cast(StepState, SimpleNamespace(key=key, step=step, tick=cast(Any, is_done) or None))


def test_the_phases_keep_the_places_and_say_what_is_done_and_where_one_is() -> None:
    listed = [_state("look", "check", is_done=True), _state("prove", "proof"), _state("again", "check", is_done=True)]
    look, prove = phases_of(listed, shown="again", coming="prove", not_asked={})
    assert ([step.place for step in look.steps], look.answered, look.is_done, look.is_open) == ([1, 3], 2, True, True)
    assert (prove.label, prove.is_next, prove.is_done, prove.is_open) == ("Prove", True, False, False)
    look, _ = phases_of(listed, shown="again", coming="look", not_asked={})
    assert not look.is_done, "what is asked once more is not done"


def test_what_nothing_asks_for_is_listed_with_why_and_not_counted() -> None:
    listed = [_state("grease", "work", is_done=True), _state("renew", "work")]
    (phase,) = phases_of(listed, shown="grease", coming=None, not_asked={"renew": "Only if found"})
    assert [(step.state.key, step.only_if) for step in phase.steps] == [("grease", ""), ("renew", "Only if found")]
    assert (phase.answered, phase.asked, phase.is_done) == (1, 1, True)
    (phase,) = phases_of(listed, shown="grease", coming=None, not_asked={})
    assert (phase.asked, phase.is_done) == (2, False)
