"""Two mechanics at one run: a tick in between is told where it changes what the answer rests on, and nowhere else."""

from __future__ import annotations

import re
import uuid
from collections.abc import Collection

import pytest

from diagnosis.in_between import is_news, stand_apart
from diagnosis.models import Run, Tick
from diagnosis.runs import (
    StaleRun,
    StepAnswer,
    Ticked,
    TickRefused,
    UnitNotSo,
    WaitsForOthers,
    start_run,
    take_back_within,
    tick_within,
)
from diagnosis.runs_rules import needs_of
from diagnosis.runs_state import state_of
from tests.bench_runs import answered, arrived
from tests.checklist_walks import as_steps
from tests.factories import ChecklistFactory, StepFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist, shipped_folder
from workshop.models import User

FACTS = {"kind": "fork", "spring_kind": "air"}
BEGUN = 5  # the version of the run when the tests begin
UP_TO_THE_AIR = ("wheel-out", "caliper-off", "all-air-out")


@pytest.fixture
def run(db: None) -> Run:
    begun = start_run(checklist=shipped_checklist("sits-low"), facts=FACTS, by=None)
    arrived(begun)
    answered(begun, "clean-outside", "done")
    return begun


@pytest.fixture
def jo(db: None) -> User:
    return UserFactory(first_name="Jo", last_name="Fell")


def send(
    run: Run, key: str, outcome: str, *, seen: int, by: User | None = None, client_id: uuid.UUID | None = None,
    after: Collection[uuid.UUID] = (), behind: Collection[str] = (),
) -> Ticked:  # fmt: skip
    answer = StepAnswer(outcome, seen, client_id or uuid.uuid4(), after=after, behind=behind)
    work = take_back_within if outcome == "taken_back" else tick_within
    return work(run=Run.objects.get(pk=run.pk), step_key=key, by=by, answer=answer)


def version_of(run: Run) -> int:
    return Run.objects.get(pk=run.pk).version


def test_anothers_tick_on_another_step_does_not_block_mine(run: Run) -> None:
    send(run, "wheel-out", "done", seen=BEGUN)
    mine = send(run, "inspect-stanchions", "ruled_out", seen=BEGUN)
    assert list(Tick.objects.values_list("step__key", flat=True))[4:] == ["wheel-out", "inspect-stanchions"]
    assert version_of(run) == BEGUN + 2
    assert mine.version == BEGUN, "what the other ticked was not seen, so it is not known either"


def test_who_alone_ticks_knows_the_run_as_it_is(run: Run) -> None:
    first = uuid.uuid4()
    assert send(run, "wheel-out", "done", seen=BEGUN, client_id=first).version == BEGUN + 1
    assert send(run, "inspect-stanchions", "ruled_out", seen=BEGUN, after=[first]).version == BEGUN + 2


def test_the_same_step_is_told_however_often_it_is_sent(run: Run) -> None:
    send(run, "inspect-stanchions", "found", seen=BEGUN)
    for _ in range(2):
        with pytest.raises(StaleRun) as stale:
            send(run, "inspect-stanchions", "ruled_out", seen=BEGUN)
        assert [tick.outcome for tick in stale.value.since] == ["found"]
    assert Tick.objects.count() == 5


def test_what_was_not_told_yet_is_told_later(run: Run) -> None:
    """An independent answer went in; the next one of the same tablet is at the step that the other answered."""
    send(run, "inspect-stanchions", "found", seen=BEGUN)
    first = uuid.uuid4()
    known_now = send(run, "wheel-out", "done", seen=BEGUN, client_id=first).version
    with pytest.raises(StaleRun):
        send(run, "inspect-stanchions", "ruled_out", seen=known_now, after=[first])


def test_a_repeat_gives_what_is_stored_and_says_no_more_than_was_seen(run: Run) -> None:
    mine = uuid.uuid4()
    send(run, "wheel-out", "done", seen=BEGUN)
    send(run, "inspect-stanchions", "ruled_out", seen=BEGUN, client_id=mine)
    again = send(run, "inspect-stanchions", "ruled_out", seen=BEGUN, client_id=mine)
    assert again.repeated
    assert again.version == BEGUN
    assert Tick.objects.count() == 6


def test_what_the_step_requires_was_changed_and_the_refusal_says_by_whom(run: Run, jo: User) -> None:
    for key in UP_TO_THE_AIR:
        answered(run, key, "done")
    seen = version_of(run)
    send(run, "pressure-and-cycle", "ruled_out", seen=seen, by=jo)
    with pytest.raises(UnitNotSo) as refused:
        send(run, "foot-fasteners-off", "done", seen=seen)
    said = str(refused.value)
    assert "is dangerous now: there is air in the positive air chamber" in said
    assert re.search(r"Meanwhile “[^”]+” was answered ruled out at \d\d:\d\d by Jo Fell\.$", said)
    assert not Tick.objects.filter(step__key="foot-fasteners-off").exists()


def test_a_step_that_mine_needs_was_taken_back_and_the_refusal_says_so(run: Run, jo: User) -> None:
    for key in UP_TO_THE_AIR:
        answered(run, key, "done")
    seen = version_of(run)
    send(run, "all-air-out", "taken_back", seen=seen, by=jo)
    with pytest.raises(TickRefused, match=r"was taken back at \d\d:\d\d by Jo Fell\.$"):
        send(run, "foot-fasteners-off", "done", seen=seen)
    assert state_of(Run.objects.get(pk=run.pk)).by_key["all-air-out"].outcome == ""


def test_what_another_rests_on_is_not_taken_back_and_the_refusal_says_so(run: Run, jo: User) -> None:
    for key in UP_TO_THE_AIR:
        answered(run, key, "done")
    seen = version_of(run)
    send(run, "foot-fasteners-off", "done", seen=seen, by=jo)
    with pytest.raises(TickRefused, match=r"rests on it.*Meanwhile .* was answered done at \d\d:\d\d by Jo Fell\.$"):
        send(run, "all-air-out", "taken_back", seen=seen)


def test_an_independent_answer_is_taken_back_over_anothers_tick(run: Run) -> None:
    send(run, "inspect-stanchions", "found", seen=BEGUN)
    seen = version_of(run)
    send(run, "wheel-out", "done", seen=seen)
    send(run, "inspect-stanchions", "taken_back", seen=seen)
    assert known(Tick.objects.last()).outcome == "taken_back"


def test_where_the_refusal_has_gone_it_is_a_choice_again(run: Run) -> None:
    """The air was let in and out again: nothing is dangerous, and the mechanic decides, who has not seen it."""
    for key in UP_TO_THE_AIR:
        answered(run, key, "done")
    seen = version_of(run)
    send(run, "pressure-and-cycle", "ruled_out", seen=seen)
    send(run, "all-air-out", "done", seen=seen + 1)
    with pytest.raises(StaleRun) as stale:
        send(run, "foot-fasteners-off", "done", seen=seen)
    assert [tick.outcome for tick in stale.value.since] == ["ruled_out", "done"]


def test_an_answer_waits_for_one_before_it_that_it_does_not_stand_apart_from(run: Run) -> None:
    for key in UP_TO_THE_AIR[:2]:
        answered(run, key, "done")
    seen = version_of(run)
    for behind in (["all-air-out"], ["foot-fasteners-off"], ["no-such-step"]):
        with pytest.raises(WaitsForOthers):
            send(run, "foot-fasteners-off", "done", seen=seen, behind=behind)
    send(run, "inspect-stanchions", "ruled_out", seen=seen, behind=["foot-fasteners-off", "all-air-out"])
    assert known(Tick.objects.last()).step.key == "inspect-stanchions"


def test_where_no_step_says_anything_of_the_unit_every_tick_is_told(db: None) -> None:
    checklist = ChecklistFactory()
    for place, key in enumerate(("look", "listen")):
        StepFactory(checklist=checklist, key=key, kind="check", position=place)
    plain = start_run(checklist=checklist, facts=FACTS, by=None)
    send(plain, "look", "ruled_out", seen=1)
    with pytest.raises(StaleRun):
        send(plain, "listen", "ruled_out", seen=1)


@pytest.mark.parametrize("plan", shipped_folder().checklists, ids=lambda plan: str(plan.key))
def test_steps_that_stand_apart_leave_each_others_parts_alone(plan: object) -> None:
    """Of every pair of every shipped list: what one may change, the other neither names nor is judged by."""
    steps = as_steps(plan)  # type: ignore[arg-type]
    needs = needs_of(steps, FACTS)
    apart = [(one, other) for one in steps for other in steps if stand_apart(one, other, needs)]
    assert len(apart) > len(steps)
    for one, other in apart:
        assert one.key != other.key
        assert other.key not in needs[one.key]
        left = {part for answer in other.answers.values() for part in answer.get("leaves") or {}}
        assert not (left | set(other.opens)) & set(one.requires)
        assert not any(is_news(one, other, outcome, needs) for outcome in (*other.answers, "taken_back"))
