"""Two runs of one job ticked at the same moment, each tablet with its own connection."""

from __future__ import annotations

import uuid

import pytest

from diagnosis.models import Run, Tick
from diagnosis.runs import StaleRun, start_run, tick
from tests.at_once import at_once
from tests.factories import ChecklistFactory, StepFactory

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def runs() -> list[Run]:
    made: list[Run] = []
    for name in ("leaks", "dives"):
        checklist = ChecklistFactory(key=name)
        StepFactory(checklist=checklist, key="look", title="Look", kind="check", position=0)
        StepFactory(checklist=checklist, key=f"own-{name}", title=f"Own {name}", kind="check", position=1)
        made.append(start_run(checklist=checklist, facts={"kind": "fork"}, by=None, beside=made[0] if made else None))
    return made


def send(run: Run, key: str, outcome: str = "ruled_out") -> str:
    try:
        seen = Run.objects.select_related("checklist").get(pk=run.pk)
        tick(run=seen, step_key=key, outcome=outcome, by=None, seen_version=1, client_id=uuid.uuid4())
    except StaleRun:
        return "told"
    return "stored"


def test_of_two_runs_answered_at_once_the_shared_step_is_answered_once(runs: list[Run]) -> None:
    results = at_once(lambda number: send(runs[number % 2], "look"))
    assert sorted(results) == ["stored"] + ["told"] * 5
    assert Tick.objects.filter(counted_from=None).count() == 1
    assert sorted(Tick.objects.values_list("run", flat=True)) == [run.pk for run in runs]
    assert [run.version for run in Run.objects.order_by("pk")] == [2, 2]


def test_own_steps_of_two_runs_wait_for_each_other_and_both_get_through(runs: list[Run]) -> None:
    keys = ["own-leaks", "own-dives"]
    assert at_once(lambda number: send(runs[number], keys[number]), people=2) == ["stored", "stored"]


def test_a_tick_and_a_run_begun_beside_it_at_once_lose_nothing(runs: list[Run]) -> None:
    late = ChecklistFactory(key="late")
    StepFactory(checklist=late, key="look", title="Look", kind="check", position=0)

    def work(number: int) -> str:
        if number:
            return send(runs[0], "look")
        start_run(checklist=late, facts={"kind": "fork"}, by=None, beside=runs[1])
        return "begun"

    assert sorted(at_once(work, people=2)) == ["begun", "stored"]
    assert Tick.objects.filter(run__checklist=late, step__key="look", outcome="ruled_out").count() == 1
