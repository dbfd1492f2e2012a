"""Several tablets ticking at the same moment, each with its own connection to the configured database."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable

import pytest
from django.db import connection

from diagnosis.models import Run, Step, Tick
from diagnosis.runs import StaleRun, tick
from tests.factories import ChecklistFactory, StepFactory

pytestmark = pytest.mark.django_db(transaction=True)

TABLETS = 6


@pytest.fixture
def run() -> Run:
    checklist = ChecklistFactory()
    for number in range(TABLETS):
        StepFactory(checklist=checklist, key=f"look-{number}", kind="check", position=number)
    return Run.objects.create(checklist=checklist, facts={"kind": "fork"})


def at_once(work: Callable[[int], str]) -> list[str]:
    """Run `work` on every tablet at the same moment; what each came back with."""
    results: list[str] = []
    together = threading.Barrier(TABLETS)

    def tablet(number: int) -> None:
        try:
            together.wait(timeout=20)
            results.append(work(number))
        finally:
            connection.close()

    threads = [threading.Thread(target=tablet, args=(number,)) for number in range(TABLETS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return results


@pytest.fixture
def apart(run: Run) -> Run:
    """The same run where the steps say what they do: each something of its own but the last two."""
    parts = ("wheel", "caliper", "stem", "damper", "oil", "oil")
    for step, part in zip(Step.objects.filter(checklist=run.checklist).order_by("position"), parts, strict=True):
        step.answers = {"found": {"leaves": {part: "unknown"}}}
        step.save()
    return run


def send(run: Run, step_key: str, client_id: uuid.UUID) -> str:
    seen = Run.objects.get(pk=run.pk)
    try:
        stored = tick(run=seen, step_key=step_key, outcome="found", by=None, seen_version=1, client_id=client_id)
    except StaleRun:
        return "told"
    return f"stored {stored.pk}"


def test_of_many_tablets_with_the_same_version_exactly_one_gets_through(run: Run) -> None:
    results = at_once(lambda number: send(run, f"look-{number}", uuid.uuid4()))
    assert sorted(result.split()[0] for result in results) == ["stored"] + ["told"] * (TABLETS - 1)
    assert Tick.objects.count() == 1
    assert Run.objects.get(pk=run.pk).version == 2


def test_one_tick_sent_many_times_at_once_is_stored_once(run: Run) -> None:
    client_id = uuid.uuid4()
    results = at_once(lambda number: send(run, "look-0", client_id))
    assert results == [f"stored {Tick.objects.get().pk}"] * TABLETS
    assert Run.objects.get(pk=run.pk).version == 2


def test_tablets_at_steps_that_touch_nothing_of_each_other_all_get_through(apart: Run) -> None:
    results = at_once(lambda number: send(apart, f"look-{number}", uuid.uuid4()) if number < TABLETS - 1 else "idle")
    assert sorted(result.split()[0] for result in results) == ["idle"] + ["stored"] * (TABLETS - 1)
    assert Tick.objects.count() == TABLETS - 1
    assert Run.objects.get(pk=apart.pk).version == TABLETS


def test_of_two_that_touch_the_same_part_one_is_told(apart: Run) -> None:
    results = at_once(lambda number: send(apart, f"look-{number}", uuid.uuid4()))
    assert sorted(result.split()[0] for result in results) == ["stored"] * (TABLETS - 1) + ["told"]
    assert Tick.objects.filter(step__key__in=["look-4", "look-5"]).count() == 1
    assert Run.objects.get(pk=apart.pk).version == TABLETS
