"""Which cause a finding is kept with: the one the step names, or the one the mechanic chose."""

from __future__ import annotations

import uuid

import pytest

from diagnosis.models import Run, Tick
from diagnosis.runs import ReusedClientId, TickRefused, start_run, tick
from diagnosis.runs_state import state_of
from tests.factories import CauseFactory, ChecklistFactory, StepFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    for key in ("cause-a", "cause-b"):
        CauseFactory(key=key)
    checklist = ChecklistFactory()
    both = {"cause-a": 0.5, "cause-b": 0.4}
    StepFactory(checklist=checklist, key="named", ends_search=both, answers={"found": {"cause": "cause-b"}})
    StepFactory(checklist=checklist, key="choice", ends_search=both | {"cause-c": 0.0}, answers={})
    StepFactory(checklist=checklist, key="only-one", ends_search={"cause-a": 0.5}, answers={})
    StepFactory(checklist=checklist, key="by-the-way", ends_search={}, answers={})
    return start_run(checklist=checklist, facts={}, by=None)


def answer(run: Run, step_key: str, outcome: str, cause_key: str = "") -> Tick:
    fresh = Run.objects.get(pk=run.pk)
    return tick(
        run=fresh, step_key=step_key, outcome=outcome, cause_key=cause_key, by=None, seen_version=fresh.version,
        client_id=uuid.uuid4(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("step_key", "chosen", "kept"),
    [
        ("named", "", "cause-b"),
        ("choice", "cause-a", "cause-a"),
        ("choice", "", None),
        ("only-one", "", "cause-a"),
        ("by-the-way", "", None),
    ],
)
def test_a_finding_is_kept_with_its_cause(run: Run, step_key: str, chosen: str, kept: str | None) -> None:
    answer(run, step_key, "found", chosen)
    (found,) = state_of(Run.objects.get(pk=run.pk)).found
    assert (found.cause and found.cause.key) == kept
    assert (Tick.objects.get().cause_id is None) == (kept is None)


@pytest.mark.parametrize(
    ("step_key", "outcome", "chosen"),
    [("choice", "found", "cause-c"), ("named", "found", "cause-a"), ("choice", "ruled_out", "cause-a")],
)
def test_a_cause_the_answer_cannot_have_is_refused(run: Run, step_key: str, outcome: str, chosen: str) -> None:
    with pytest.raises(TickRefused, match="cannot find that cause"):
        answer(run, step_key, outcome, chosen)
    assert not Tick.objects.exists()


def test_the_same_id_with_another_cause_is_refused_and_not_dropped(run: Run) -> None:
    client_id = uuid.uuid4()

    def send(cause_key: str) -> Tick:
        return tick(
            run=run, step_key="choice", outcome="found", cause_key=cause_key, by=None, seen_version=1,
            client_id=client_id,
        )  # fmt: skip

    first = send("cause-a")
    assert send("cause-a").pk == first.pk
    with pytest.raises(ReusedClientId):
        send("cause-b")
