"""Working through a checklist: ticks that may be sent twice, two tablets at once, needs, readings, timers."""

from __future__ import annotations

import uuid

import pytest

from diagnosis.judging import Yardstick
from diagnosis.models import Checklist, Reading, Run, StepTimer, Tick
from diagnosis.runs import (
    ReadingsMissing,
    ReusedClientId,
    StaleRun,
    StepNeedsOthers,
    TickRefused,
    TypedReadings,
    start_run,
    take_back,
    tick,
)
from diagnosis.runs_readings import ReadingsRefused
from diagnosis.runs_state import state_of
from diagnosis.runs_timers import start_timer, stop_timer
from tests.factories import ChecklistFactory, StepFactory, UserFactory

pytestmark = pytest.mark.django_db

AIR_FORK = {"kind": "fork", "spring_kind": "air", "bleed_buttons": None}
PUMP = {
    "key": "pump_pressure", "measures": "arrival_pressure", "label": "Pump reading",
    "quantity": "pressure", "unit": "psi", "required": True, "low": "0 psi", "high": "400 psi", "help": "",
}  # fmt: skip
REST = {
    "key": "rest_travel", "measures": "rest_depth", "label": "Rest depth", "quantity": "length", "unit": "mm",
    "required": True, "low": "0 mm", "high": "250 mm", "help": "",
}  # fmt: skip


@pytest.fixture
def checklist() -> Checklist:
    checklist = ChecklistFactory()

    def step(key: str, kind: str, **fields: object) -> None:
        StepFactory(checklist=checklist, key=key, kind=kind, title=key, position=checklist.steps.count(), **fields)

    step("look", "check")
    step("open", "work", answers={})
    step("inspect", "check", needs=["open"])
    step("coil", "check", only_if={"spring_kind": ["coil"]})
    step("soak", "work", answers={}, timer={"minutes": 10, "label": "Foam rings soaking"})
    step("prove", "proof", answers={}, readings=[REST])
    step("pump", "work", answers={}, readings=[PUMP])
    return checklist


@pytest.fixture
def run(checklist: Checklist) -> Run:
    return start_run(checklist=checklist, facts=AIR_FORK, by=UserFactory(mechanic=True))


def answer(run: Run, step_key: str, outcome: str, **more: object) -> Tick:
    details = {"by": run.started_by, "seen_version": run.version, "client_id": uuid.uuid4(), **more}
    return tick(run=run, step_key=step_key, outcome=outcome, **details)  # type: ignore[arg-type]


def test_a_tick_is_stored_with_who_and_note_and_advances_the_version(run: Run) -> None:
    stored = answer(run, "look", "found", note="  oil on the left leg ")
    assert (stored.outcome, stored.note, stored.by) == ("found", "oil on the left leg", run.started_by)
    assert Run.objects.get(pk=run.pk).version == run.version == 2


def test_the_same_id_again_gives_the_stored_tick_whatever_the_version(run: Run) -> None:
    client_id = uuid.uuid4()
    first = answer(run, "look", "ruled_out", client_id=client_id)
    answer(run, "open", "done")
    again = answer(run, "look", "ruled_out", client_id=client_id, seen_version=1)
    assert again.pk == first.pk
    assert Tick.objects.count() == 2
    assert Run.objects.get(pk=run.pk).version == 3


def test_the_same_id_with_another_answer_is_refused_and_not_dropped(run: Run) -> None:
    client_id = uuid.uuid4()
    first = answer(run, "look", "ruled_out", client_id=client_id)
    with pytest.raises(ReusedClientId) as refused:
        answer(run, "look", "found", client_id=client_id)
    assert refused.value.since == [first]


def test_a_second_tablet_is_told_what_the_first_did(run: Run) -> None:
    other = Run.objects.get(pk=run.pk)
    first = answer(run, "look", "ruled_out")
    with pytest.raises(StaleRun) as stale:
        answer(other, "look", "found", seen_version=1)
    assert stale.value.since == [first]
    assert stale.value.run.version == 2
    assert Tick.objects.count() == 1


def test_the_second_tablet_can_save_its_answer_as_well(run: Run) -> None:
    answer(run, "look", "ruled_out")
    answer(Run.objects.get(pk=run.pk), "look", "found")
    assert state_of(Run.objects.get(pk=run.pk)).by_key["look"].outcome == "found"


@pytest.mark.parametrize(
    ("step_key", "outcome"), [("look", "done"), ("open", "found"), ("prove", "done"), ("look", "taken_back")]
)
def test_an_outcome_of_another_kind_is_refused(run: Run, step_key: str, outcome: str) -> None:
    with pytest.raises(TickRefused, match="no answer to a step"):
        answer(run, step_key, outcome)
    assert Run.objects.get(pk=run.pk).version == 1


def test_a_step_waits_for_what_it_needs_and_says_so(run: Run) -> None:
    with pytest.raises(StepNeedsOthers, match=r"“inspect” has to wait\. First do “open”"):
        answer(run, "inspect", "found")
    answer(Run.objects.get(pk=run.pk), "open", "done")
    answer(Run.objects.get(pk=run.pk), "inspect", "found")


def test_a_step_for_another_kind_of_fork_is_refused(run: Run) -> None:
    with pytest.raises(TickRefused, match="not part of this run"):
        answer(run, "coil", "found")


def test_taking_back_is_a_row_of_its_own(run: Run) -> None:
    answer(run, "look", "found")
    take_back(run=run, step_key="look", by=run.started_by, seen_version=2, client_id=uuid.uuid4())
    assert list(Tick.objects.order_by("pk").values_list("outcome", flat=True)) == ["found", "taken_back"]
    assert state_of(Run.objects.get(pk=run.pk)).by_key["look"].outcome == ""


def test_taking_back_twice_with_one_id_is_harmless(run: Run) -> None:
    answer(run, "look", "found")
    client_id = uuid.uuid4()
    for _ in range(2):
        take_back(run=run, step_key="look", by=run.started_by, seen_version=2, client_id=client_id)
    assert Tick.objects.count() == 2


def test_nothing_to_take_back_is_refused(run: Run) -> None:
    with pytest.raises(TickRefused, match="no answer to take back"):
        take_back(run=run, step_key="look", by=None, seen_version=1, client_id=uuid.uuid4())


def test_an_answer_that_another_rests_on_is_not_taken_back(run: Run) -> None:
    answer(run, "open", "done")
    answer(run, "inspect", "found")
    with pytest.raises(TickRefused, match="while “inspect” rests on it"):
        take_back(run=run, step_key="open", by=None, seen_version=3, client_id=uuid.uuid4())


def test_readings_in_any_unit_are_saved_with_the_tick(run: Run) -> None:
    answer(run, "prove", "proved", readings=TypedReadings({"rest_travel": "0.16 in"}, {"length": "mm"}))
    stored = Reading.objects.get()
    assert stored.magnitude_si == pytest.approx(0.004064)  # 1 in = 25.4 mm exactly, NIST SP 811
    assert stored.typed == "0.16 in"


def test_a_bare_number_takes_the_unit_beside_the_field(run: Run) -> None:
    answer(run, "prove", "proved", readings=TypedReadings({"rest_travel": "4,5"}, {"length": "mm"}))
    stored = Reading.objects.get()
    assert stored.typed == "4.5 mm"
    assert stored.magnitude_si == pytest.approx(0.0045)


def test_a_required_reading_is_asked_for_and_nothing_is_saved(run: Run) -> None:
    with pytest.raises(ReadingsMissing, match="“Rest depth”"):
        answer(run, "prove", "proved")
    assert not Tick.objects.exists()
    assert Run.objects.get(pk=run.pk).version == 1


def test_a_reading_stored_before_counts(run: Run) -> None:
    answer(run, "prove", "not_proved", readings=TypedReadings({"rest_travel": "4 mm"}))
    answer(Run.objects.get(pk=run.pk), "prove", "proved")


def test_not_proved_needs_no_reading(run: Run) -> None:
    answer(run, "prove", "not_proved")


@pytest.mark.parametrize(
    ("typed", "why"),
    [("soft", "Enter a number"), ("82 psi", "not a unit of length"), ("900 mm", "from 0 mm to 250 mm"), ("-1", "from")],
)
def test_a_reading_that_makes_no_sense_is_refused_with_the_reason(run: Run, typed: str, why: str) -> None:
    with pytest.raises(ReadingsRefused) as refused:
        answer(run, "prove", "proved", readings=TypedReadings({"rest_travel": typed}, {"length": "mm"}))
    assert why in refused.value.errors["rest_travel"]
    assert not Reading.objects.exists()


def test_a_pressure_above_the_maximum_is_refused(run: Run) -> None:
    maximum = {"pump_pressure": Yardstick(most=827370.875, most_says="the maximum of this fork", as_found=True)}
    typed = TypedReadings({"pump_pressure": "121 psi"}, {"pressure": "psi"}, maximum)
    with pytest.raises(ReadingsRefused, match="maximum of this fork, 120 psi"):
        answer(run, "pump", "done", readings=typed)
    meant = TypedReadings(typed.typed, typed.units, maximum, above_maximum_is_meant=True)
    answer(Run.objects.get(pk=run.pk), "pump", "done", readings=meant)


def test_the_same_readings_sent_again_are_stored_once(run: Run) -> None:
    client_id = uuid.uuid4()
    typed = TypedReadings({"rest_travel": "4 mm"})
    for _ in range(2):
        answer(run, "prove", "not_proved", client_id=client_id, readings=typed, seen_version=1)
    answer(Run.objects.get(pk=run.pk), "prove", "proved", readings=typed)
    assert Reading.objects.count() == 1


def test_one_timer_runs_however_often_it_is_started(run: Run) -> None:
    first = start_timer(run=run, step_key="soak", by=None, client_id=uuid.uuid4())
    second = start_timer(run=run, step_key="soak", by=None, client_id=uuid.uuid4())
    assert first.pk == second.pk
    assert first.seconds == 600


def test_a_stopped_timer_keeps_when_it_was_stopped_and_another_can_start(run: Run) -> None:
    timer = start_timer(run=run, step_key="soak", by=None, client_id=uuid.uuid4())
    stop_timer(run=run, client_id=timer.client_id)
    timer.refresh_from_db()
    stopped_at = timer.stopped_at
    assert stopped_at is not None
    stop_timer(run=run, client_id=timer.client_id)
    timer.refresh_from_db()
    assert timer.stopped_at == stopped_at
    start_timer(run=run, step_key="soak", by=None, client_id=uuid.uuid4())
    assert StepTimer.objects.count() == 2


def test_a_step_without_timer_starts_none(run: Run) -> None:
    with pytest.raises(TickRefused, match="has no timer"):
        start_timer(run=run, step_key="look", by=None, client_id=uuid.uuid4())


def test_an_unknown_fact_is_refused(checklist: Checklist) -> None:
    with pytest.raises(ValueError, match="colour"):
        start_run(checklist=checklist, facts={"colour": "red"}, by=None)
