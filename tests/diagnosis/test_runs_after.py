"""A tablet that was cut off sends several ticks in a row: its own are no news to it, another's are."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.utils import timezone

from diagnosis.models import Run, Tick
from diagnosis.runs import StaleRun, TypedReadings, start_run, tick
from tests.bench_runs import ARRIVED
from tests.shipped import shipped_checklist
from workshop.work.sent import Queued

pytestmark = pytest.mark.django_db
STEPS = tuple(ARRIVED)


@pytest.fixture
def run() -> Run:
    return start_run(checklist=shipped_checklist("sits-low"), facts={}, by=None)


def done(run: Run, key: str, *, seen: int, after: tuple[uuid.UUID, ...] = ()) -> uuid.UUID:
    return ticked(run, key, seen=seen, client_id=uuid.uuid4(), after=after)


def ticked(run: Run, key: str, *, seen: int, client_id: uuid.UUID, after: tuple[uuid.UUID, ...] = ()) -> uuid.UUID:
    readings = TypedReadings(ARRIVED[key])
    tick(
        run=run, step_key=key, outcome="done", by=None, seen_version=seen, client_id=client_id, after=after,
        readings=readings,
    )  # fmt: skip
    return client_id


def test_a_row_of_ticks_goes_in_by_the_one_version_that_was_seen(run: Run) -> None:
    sent: tuple[uuid.UUID, ...] = ()
    for key in STEPS:
        sent += (done(run, key, seen=1, after=sent),)
    assert list(Tick.objects.values_list("client_id", flat=True)) == list(sent)
    assert Run.objects.get().version == 4


def test_a_tick_by_another_in_between_is_told_and_nothing_is_saved(run: Run) -> None:
    first = done(run, STEPS[0], seen=1)
    done(run, STEPS[1], seen=2)  # the other tablet
    with pytest.raises(StaleRun) as stale:
        done(run, STEPS[2], seen=1, after=(first,))
    assert [entry.step.key for entry in stale.value.since] == [STEPS[1]]
    assert Tick.objects.count() == 2


def test_a_tick_by_another_before_the_row_is_told_too(run: Run) -> None:
    done(run, STEPS[0], seen=1)
    with pytest.raises(StaleRun):
        done(run, STEPS[0], seen=1)


def test_ids_that_were_never_stored_open_no_door(run: Run) -> None:
    done(run, STEPS[0], seen=1)
    with pytest.raises(StaleRun):
        done(run, STEPS[1], seen=1, after=(uuid.uuid4(), uuid.uuid4()))


def test_a_repeat_of_the_first_after_the_second_is_harmless(run: Run) -> None:
    first = done(run, STEPS[0], seen=1)
    done(run, STEPS[1], seen=1, after=(first,))
    ticked(run, STEPS[0], seen=1, client_id=first)
    assert Tick.objects.count() == 2


def test_it_happened_when_it_was_answered_and_not_before_the_run() -> None:
    now = timezone.now()
    started = now - dt.timedelta(hours=1)
    at = Queued(waited=dt.timedelta(minutes=10)).happened_at(started)
    assert abs(at - (now - dt.timedelta(minutes=10))) < dt.timedelta(seconds=5)
    assert Queued(waited=dt.timedelta(days=3)).happened_at(started) == started
