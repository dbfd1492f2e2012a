"""Several tablets ticking at the same moment, each with its own connection to the configured database."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable

import pytest
from django.db import connection

from diagnosis.models import Run, Tick
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
