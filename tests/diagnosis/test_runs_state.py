"""Where a run stands: what is next and why, what was found, what is still to be proved, in how many queries."""

from __future__ import annotations

import uuid

import pytest
from pytest_django import DjangoAssertNumQueries

from diagnosis.layout_facts import Facts
from diagnosis.models import Run, Tick
from diagnosis.runs import TypedReadings, start_run, tick
from diagnosis.runs_state import RunState, state_of, states_of
from diagnosis.runs_timers import start_timer
from tests.any_reading import any_reading
from tests.shipped import shipped_checklist

pytestmark = pytest.mark.django_db

AIR_FORK: Facts = {
    "kind": "fork", "spring_kind": "air", "self_equalising": True, "spring_retention": "internal_circlip",
    "foot_fastener": "bolt", "crush_washers": True, "foam_rings": True, "bleed_buttons": None,
}  # fmt: skip
ARRIVED = {
    "record-arrival": {"rest_travel": "28 mm"},
    "arrival-pressure": {"pump_pressure": "80 psi"},
    "record-clicks": {"rebound_clicks": "7"},
}


@pytest.fixture
def run() -> Run:
    return start_run(checklist=shipped_checklist("sits-low"), facts=AIR_FORK, by=None)


def answer(run: Run, step_key: str, outcome: str, typed: dict[str, str] | None = None) -> RunState:
    fresh = Run.objects.get(pk=run.pk)
    tick(
        run=fresh, step_key=step_key, outcome=outcome, by=None, seen_version=fresh.version, client_id=uuid.uuid4(),
        readings=TypedReadings(typed or {}),
    )  # fmt: skip
    return state_of(Run.objects.get(pk=run.pk))


def arrive(run: Run) -> RunState:
    for step_key, typed in ARRIVED.items():
        state = answer(run, step_key, "done", typed)
    return state


def next_key(state: RunState) -> str | None:
    return state.next.step.key if state.next else None


def test_a_new_run_starts_with_the_first_step_of_the_handbook(run: Run) -> None:
    state = state_of(run)
    assert next_key(state) == "record-arrival"
    assert state.is_untouched
    assert state.found == ()


def test_steps_for_another_kind_of_fork_are_left_out(run: Run) -> None:
    state = state_of(run)
    assert "coil-check" not in state.by_key
    assert "free-port-by-hand" in state.by_key


def test_the_next_step_says_why_from_the_answer_before(run: Run) -> None:
    state = arrive(run)
    state = answer(run, "pressure-and-cycle", "ruled_out")
    assert state.next is not None
    assert state.next.why == "There is enough air in it and it still sits low."


def test_a_finding_leads_to_its_step_and_is_listed_with_cause_and_cure(run: Run) -> None:
    arrive(run)
    state = answer(run, "pressure-and-cycle", "found")
    assert next_key(state) == "prove-pressure"
    assert state.next is not None
    assert state.next.why == "It only lacked air. Prove that it keeps the air before handing it back."
    (found,) = state.found
    assert found.cause is not None
    assert (found.step.key, found.cause.key) == ("pressure-and-cycle", "low-pressure")
    assert found.cure.startswith("Set the pressure as the spring needs it")


def test_after_a_finding_only_proof_is_left_when_nothing_was_taken_apart(run: Run) -> None:
    arrive(run)
    answer(run, "pressure-and-cycle", "found")
    state = answer(run, "prove-pressure", "proved", {"pressure_set": "82 psi", "pressure_recheck": "82 psi"})
    walked = []
    while state.next is not None:
        walked.append(state.next.step.key)
        assert state.next.step.kind == "proof" or state.next.step.key == "fill-in-stages"
        typed = {plan["key"]: any_reading(plan) for plan in state.next.step.readings}
        outcome = "proved" if state.next.step.kind == "proof" else "done"
        state = answer(run, state.next.step.key, outcome, typed)
    assert walked[-1] == "test-ride"
    assert state.missing_proof == ()


def test_a_wheel_that_was_taken_out_is_refitted_before_the_proof(run: Run) -> None:
    arrive(run)
    answer(run, "clean-outside", "done")
    answer(run, "wheel-out", "done")
    state = answer(run, "bleed-legs", "found")
    assert next_key(state) == "refit-brake-wheel"
    assert "refit-brake-wheel" in {missing.key for missing in state.missing_proof}
    state = answer(run, "refit-brake-wheel", "done")
    assert next_key(state) == "prove-rest"


def test_what_a_step_needs_comes_first_and_the_reason_names_the_goal(run: Run) -> None:
    arrive(run)
    for step_key in ("wheel-out", "caliper-off", "all-air-out", "foot-fasteners-off", "lowers-off", "clean-lowers"):
        answer(run, step_key, "done")
    state = answer(run, "inspect-bushings", "found")
    assert next_key(state) == "foam-rings"
    state = answer(run, "foam-rings", "done")
    assert next_key(state) == "fit-wipers"  # judged good enough, they go back in
    state = answer(run, "fit-wipers", "left_out")
    assert state.next is not None
    assert state.next.step.key == "lowers-on"  # the spring is in as it came, so nothing is taken out for them
    answer(run, "air-spring-out", "done")
    state = state_of(Run.objects.get(pk=run.pk))
    assert state.next is not None
    assert state.next.step.key != "lowers-on"  # they go on only over a spring that is in and proved


def test_a_finding_by_the_way_does_not_end_the_search() -> None:
    run = start_run(checklist=shipped_checklist("loses-air"), facts=AIR_FORK, by=None)
    arrive(run)
    answer(run, "prove-the-loss", "cant_tell")
    for step_key in ("wheel-out", "caliper-off", "all-air-out", "foot-fasteners-off", "lowers-off", "clean-lowers"):
        answer(run, step_key, "done")
    state = answer(run, "inspect-bushings", "found")  # worn bushings lose no air
    assert [found.step.key for found in state.found] == ["inspect-bushings"]
    assert next_key(state) == "bushings-renewed"  # while the lowers are off, for the finding asks for it
    state = answer(run, "bushings-renewed", "done")
    assert next_key(state) == "foam-rings"  # the soap tests were passed by, and the lowers go on for them first
    answer(run, "air-spring-out", "done")
    left = {entry.key for entry in state.steps if entry.step.kind == "check" and entry.tick is None}
    walked = set()
    while (state := state_of(Run.objects.get(pk=run.pk))).next is not None and state.next.step.kind != "proof":
        step = state.next.step
        walked.add(step.key)
        answer(
            run, step.key, "ruled_out" if step.kind == "check" else "done",
            {plan["key"]: any_reading(plan) for plan in step.readings},
        )  # fmt: skip
    assert left <= walked


def test_a_routine_list_goes_on_after_each_finding() -> None:
    run = start_run(checklist=shipped_checklist("routine-lowers-service"), facts=AIR_FORK, by=None)
    arrive(run)
    state = state_of(Run.objects.get(pk=run.pk))
    answer(run, "clean-outside", "done")
    state = answer(run, "inspect-stanchions", "found")
    assert next_key(state) == "inspect-wipers"


def test_safety_work_that_was_left_out_comes_up_again(run: Run) -> None:
    state = answer(run, "record-arrival", "left_out")
    assert state.next is not None
    assert state.next.step.key == "record-arrival"
    assert "It has to come before “Read the pressure as it came in”" in state.next.why


def test_a_proof_that_fails_takes_the_search_up_again(run: Run) -> None:
    arrive(run)
    answer(run, "pressure-and-cycle", "found")
    answer(run, "prove-pressure", "proved", {"pressure_set": "82 psi", "pressure_recheck": "82 psi"})
    state = answer(run, "prove-rest", "not_proved")
    assert state.next is not None
    assert state.next.step.kind == "check" or state.next.step.key == "clean-outside"
    assert "prove-rest" in {missing.key for missing in state.missing_proof}


def test_every_step_can_be_walked_to_the_end_when_nothing_is_found(run: Run) -> None:
    state = state_of(run)
    for _ in range(2 * state.total):  # feeling the damper lets the air out, so some steps come twice
        if state.next is None:
            break
        step = state.next.step
        outcome = {"check": "ruled_out", "work": "done", "proof": "proved"}[step.kind]
        typed = {plan["key"]: any_reading(plan) for plan in step.readings}
        state = answer(run, step.key, outcome, typed)
    assert state.next is None
    assert state.answered == state.total
    assert state.missing_proof == ()


def test_a_running_timer_is_part_of_the_state(run: Run) -> None:
    start_timer(run=run, step_key="prove-pressure", by=None, client_id=uuid.uuid4())
    ((step_state, timer),) = state_of(Run.objects.get(pk=run.pk)).running_timers
    assert (step_state.key, timer.seconds) == ("prove-pressure", 1200)


def test_the_number_of_queries_is_the_same_for_one_run_and_for_many(
    run: Run, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    arrive(run)
    others = [start_run(checklist=run.checklist, facts=AIR_FORK, by=None) for _ in range(8)]
    for other in others:
        arrive(other)
    with django_assert_num_queries(6):
        state_of(Run.objects.get(pk=run.pk))
    with django_assert_num_queries(6):
        states_of(Run.objects.order_by("pk"))
    assert Tick.objects.count() == 27
