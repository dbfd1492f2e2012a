"""Two runs of one job: answered once, counted in both, undone in both."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.utils import timezone

from diagnosis.models import Reading, Run, Step, StepTimer, Tick
from diagnosis.runs import TickRefused, TypedReadings, start_run, take_back, tick
from diagnosis.runs_minutes import correct_minutes
from diagnosis.runs_state import state_of, states_of
from diagnosis.runs_timers import start_timer, stop_timer
from tests.bench_runs import arrived
from tests.shipped import shipped_checklist

pytestmark = pytest.mark.django_db

FACTS = {"kind": "fork", "spring_kind": "air"}


@pytest.fixture
def low() -> Run:
    return start_run(checklist=shipped_checklist("sits-low"), facts=FACTS, by=None)


@pytest.fixture
def oily(low: Run) -> Run:
    return start_run(checklist=shipped_checklist("oil-at-seals"), facts=FACTS, by=None, beside=low)


def answer(run: Run, key: str, outcome: str, cause: str = "", **typed: str) -> Tick:
    fresh = Run.objects.get(pk=run.pk)
    return tick(
        run=fresh, step_key=key, outcome=outcome, by=None, seen_version=fresh.version, client_id=uuid.uuid4(),
        cause_key=cause, readings=TypedReadings(typed),
    )  # fmt: skip


def undo(run: Run, key: str) -> Tick:
    fresh = Run.objects.get(pk=run.pk)
    return take_back(run=fresh, step_key=key, by=None, seen_version=fresh.version, client_id=uuid.uuid4())


def outcomes(run: Run) -> dict[str, str]:
    return dict(state_of(Run.objects.get(pk=run.pk)).outcomes)


STRIPPED = ("wheel-out", "caliper-off", "all-air-out", "foot-fasteners-off", "lowers-off")


def stripped(run: Run) -> None:
    arrived(run)
    for key in STRIPPED:
        answer(run, key, "done")


def test_an_answer_counts_in_the_other_run_with_who_when_and_where(low: Run, oily: Run) -> None:
    arrived(low)
    there = state_of(Run.objects.get(pk=oily.pk)).by_key["record-arrival"]
    own = Tick.objects.get(run=low, step__key="record-arrival")
    assert there.tick is not None
    assert (there.outcome, there.tick.ticked_at, there.tick.by) == ("done", own.ticked_at, own.by)
    assert there.answered_in == low
    assert Run.objects.get(pk=oily.pk).version == 4


def test_a_reading_is_one_record_and_seen_in_both(low: Run, oily: Run) -> None:
    arrived(low)
    before = Reading.objects.count()
    assert state_of(Run.objects.get(pk=oily.pk)).reading("record-arrival", "rest_travel") == Reading.objects.get(
        key="rest_travel"
    )
    answer(oily, "record-arrival", "done")  # needs no second reading, and stores none
    answer(oily, "arrival-pressure", "done", pump_pressure="80 psi")
    assert Reading.objects.count() == before
    answer(oily, "record-arrival", "done", rest_travel="30 mm")
    both = states_of(Run.objects.filter(pk__in=[low.pk, oily.pk]))
    assert [state.by_key["record-arrival"].readings["rest_travel"].typed for state in both] == ["30 mm", "30 mm"]


def test_a_timer_of_a_shared_step_is_one_timer_seen_and_stopped_in_both(low: Run, oily: Run) -> None:
    timer = start_timer(run=low, step_key="foam-rings", by=None, client_id=uuid.uuid4())
    assert start_timer(run=oily, step_key="foam-rings", by=None, client_id=uuid.uuid4()) == timer
    both = states_of(Run.objects.filter(pk__in=[low.pk, oily.pk]))
    assert [[running for _, running in state.running_timers] for state in both] == [[timer], [timer]]
    stop_timer(run=oily, client_id=timer.client_id)
    assert StepTimer.objects.get().stopped_at is not None


def test_a_timer_is_not_seen_in_another_job_or_at_a_step_that_reads_otherwise(low: Run, oily: Run) -> None:
    elsewhere = start_run(checklist=shipped_checklist("oil-at-seals"), facts=FACTS, by=None)
    Step.objects.filter(checklist=oily.checklist, key="foam-rings").update(title="Foam rings, another way")
    timer = start_timer(run=low, step_key="foam-rings", by=None, client_id=uuid.uuid4())
    states = states_of(Run.objects.filter(pk__in=[low.pk, oily.pk, elsewhere.pk]))
    assert [len(state.running_timers) for state in states] == [1, 0, 0]
    assert start_timer(run=oily, step_key="foam-rings", by=None, client_id=uuid.uuid4()) != timer
    stop_timer(run=elsewhere, client_id=timer.client_id)
    timer.refresh_from_db()
    assert timer.stopped_at is None


@pytest.mark.parametrize("where", ["low", "oily"])
def test_it_is_undone_together_wherever_it_is_taken_back(low: Run, oily: Run, where: str) -> None:
    answer(low, "record-arrival", "done", rest_travel="4 mm")
    undo({"low": low, "oily": oily}[where], "record-arrival")
    assert outcomes(low) == {} == outcomes(oily)


def test_an_answer_on_which_the_other_run_rests_stays(low: Run, oily: Run) -> None:
    answer(low, "record-arrival", "done", rest_travel="4 mm")
    answer(oily, "oil-on-brake", "ruled_out")
    with pytest.raises(TickRefused, match="rests on it"):
        undo(low, "record-arrival")


def test_putting_together_what_the_other_run_wants_open_is_told_there_and_undone_with_it(low: Run, oily: Run) -> None:
    stripped(low)
    for key in ("inspect-bushings", "air-spring-in", "prove-circlip-seat"):
        _force(low, key)
    for key in ("clean-lowers", "fit-wipers", "foam-rings"):
        answer(low, key, "done")
    answer(low, "lowers-on", "done")
    assert "lowers-off" not in outcomes(oily)
    assert "lowers-on" not in outcomes(oily)
    undo(low, "lowers-on")
    assert outcomes(oily)["lowers-off"] == "done"


def _force(run: Run, key: str) -> None:
    """A step that is not what the test is about, answered without what comes before it."""
    step = run.checklist.steps.get(key=key)
    outcome = "ruled_out" if step.kind == "check" else "done"
    Tick.objects.create(run=run, step=step, outcome=outcome, ticked_at=timezone.now())


def test_a_run_begun_later_starts_with_what_was_answered(low: Run) -> None:
    stripped(low)
    late = start_run(checklist=shipped_checklist("oil-at-seals"), facts=FACTS, by=None, beside=low)
    state = state_of(late)
    assert set(STRIPPED) <= set(state.outcomes)
    assert state.is_untouched
    assert late.version == 1 + len(state.outcomes)
    assert state.reading("record-arrival", "rest_travel") is not None


def test_two_jobs_share_nothing(low: Run) -> None:
    other = start_run(checklist=shipped_checklist("oil-at-seals"), facts=FACTS, by=None)
    arrived(low)
    assert outcomes(other) == {}


def test_minutes_are_put_right_where_the_step_was_answered(low: Run, oily: Run) -> None:
    arrived(low)

    def put_right(run: Run) -> float:
        return correct_minutes(
            run=run, step_key="record-arrival", minutes=3, by=None, client_id=uuid.uuid4(), seen=None
        ).minutes

    with pytest.raises(TickRefused):
        put_right(oily)
    assert put_right(low) == 3


def test_a_run_ends_when_its_last_proof_is_there_and_is_open_again_without_it() -> None:
    run = start_run(checklist=shipped_checklist("sits-low"), facts=FACTS, by=None)
    arrived(run)
    answer(run, "pressure-and-cycle", "found", cause="low-pressure")
    ends: list[dt.datetime | None] = []
    while (coming := state_of(Run.objects.get(pk=run.pk)).next) is not None:
        step = coming.step
        typed = {plan["key"]: "5.5 bar" if plan["quantity"] == "pressure" else plan["low"] for plan in step.readings}
        ends.append(Run.objects.get(pk=run.pk).ended_at)
        last = answer(run, step.key, "proved" if step.kind == "proof" else "done", **typed)
    assert set(ends) == {None}
    assert Run.objects.get(pk=run.pk).ended_at == last.ticked_at
    undo(run, last.step.key)
    assert Run.objects.get(pk=run.pk).ended_at is None
