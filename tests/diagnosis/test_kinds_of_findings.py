"""A finding is the cause, by the way, or dangerous: only the cause ends the search for the complaint."""

from __future__ import annotations

import uuid

import pytest
from django.db import IntegrityError, transaction

from diagnosis.models import Run, Tick
from diagnosis.runs import ReusedClientId, TickRefused, start_run, take_back, tick
from diagnosis.runs_state import RunState, state_of
from tests.factories import CauseFactory, ChecklistFactory, StepFactory

pytestmark = pytest.mark.django_db
CAUSE, BY_THE_WAY, DANGER = "cause", "by_the_way", "danger"


@pytest.fixture
def run() -> Run:
    for key in ("cause-a", "cause-b"):
        CauseFactory(key=key)
    checklist = ChecklistFactory(priors={"cause-a": 2, "cause-b": 1})
    found = {"found": {"says": "Found.", "next": "mend"}}
    StepFactory(checklist=checklist, key="able", ends_search={"cause-a": 0.9}, answers=found)
    StepFactory(checklist=checklist, key="other", ends_search={"cause-b": 0.9}, answers={})
    StepFactory(checklist=checklist, key="choice", ends_search={"cause-a": 0.5, "cause-b": 0.5}, answers={})
    StepFactory(checklist=checklist, key="unable", ends_search={}, answers={"found": {"next": "mend"}})
    StepFactory(
        checklist=checklist, key="crown", ends_search={"cause-b": 0.5}, answers={"found": {"finding": "danger"}}
    )
    StepFactory(checklist=checklist, key="spokes", ends_search={}, answers={"found": {"finding": "danger"}})
    StepFactory(checklist=checklist, key="mend", kind="work", answers={})
    StepFactory(checklist=checklist, key="prove", kind="proof", answers={})
    return start_run(checklist=checklist, facts={}, by=None)


def answer(
    run: Run,
    step_key: str,
    outcome: str = "found",
    finding: str = "",
    cause: str = "",
    client_id: uuid.UUID | None = None,
) -> Tick:
    fresh = Run.objects.get(pk=run.pk)
    return tick(
        run=fresh, step_key=step_key, outcome=outcome, finding=finding, cause_key=cause, by=None,
        seen_version=fresh.version, client_id=client_id or uuid.uuid4(),
    )  # fmt: skip


def standing(run: Run) -> RunState:
    return state_of(Run.objects.get(pk=run.pk))


@pytest.mark.parametrize("finding", [BY_THE_WAY, DANGER])
def test_what_is_not_the_cause_leaves_the_search_on(run: Run, finding: str) -> None:
    made = answer(run, "able", finding=finding)
    state = standing(run)
    assert (made.finding, made.cause) == (finding, None)
    assert not state.side.search_is_over
    assert state.next is not None
    assert state.next.step.key == "other"
    (found,) = state.found
    assert (found.kind, found.cause) == (finding, None)


def test_the_cause_ends_it_as_before(run: Run) -> None:
    made = answer(run, "able", finding=CAUSE)
    state = standing(run)
    assert (made.finding, made.cause and made.cause.key) == (CAUSE, "cause-a")
    assert state.side.search_is_over
    assert state.next is not None
    assert state.next.step.key == "mend"


def test_a_danger_may_be_the_cause_too(run: Run) -> None:
    made = answer(run, "crown", finding=DANGER, cause="cause-b")
    assert (made.finding, made.cause and made.cause.key) == (DANGER, "cause-b")
    assert standing(run).side.search_is_over


@pytest.mark.parametrize(
    ("step_key", "kept", "cause"),
    [
        ("able", CAUSE, "cause-a"),
        ("choice", CAUSE, None),
        ("unable", BY_THE_WAY, None),
        ("crown", DANGER, "cause-b"),
        ("spokes", DANGER, None),
    ],
)
def test_unsaid_it_is_what_the_checklist_says_or_the_cause(
    run: Run, step_key: str, kept: str, cause: str | None
) -> None:
    made = answer(run, step_key)
    assert (made.finding, made.cause and made.cause.key) == (kept, cause)


@pytest.mark.parametrize(
    ("step_key", "outcome", "finding", "cause", "words"),
    [
        ("unable", "found", CAUSE, "", "cannot find the cause"),
        ("able", "ruled_out", DANGER, "", "found nothing"),
        ("able", "found", "perhaps", "", "no kind of finding"),
        ("able", "found", BY_THE_WAY, "cause-a", "by the way"),
        ("able", "found", DANGER, "cause-b", "cannot find that cause"),
    ],
)
def test_what_cannot_be_is_refused(run: Run, step_key: str, outcome: str, finding: str, cause: str, words: str) -> None:
    with pytest.raises(TickRefused, match=words):
        answer(run, step_key, outcome, finding, cause)
    assert not Tick.objects.exists()


def test_answered_twice_changed_and_taken_back(run: Run) -> None:
    client_id = uuid.uuid4()
    first = answer(run, "able", finding=BY_THE_WAY, client_id=client_id)
    assert answer(run, "able", finding=BY_THE_WAY, client_id=client_id).pk == first.pk
    with pytest.raises(ReusedClientId):
        answer(run, "able", finding=DANGER, client_id=client_id)
    answer(run, "able", finding=DANGER)
    assert [found.kind for found in standing(run).found] == [DANGER]
    answer(run, "able", finding=CAUSE)
    assert standing(run).side.search_is_over
    answer(run, "able", finding=BY_THE_WAY)
    assert not standing(run).side.search_is_over
    fresh = Run.objects.get(pk=run.pk)
    take_back(run=fresh, step_key="able", by=None, seen_version=fresh.version, client_id=uuid.uuid4())
    state = standing(run)
    assert state.found == ()
    assert state.next is not None
    assert state.next.step.key == "able"


def test_a_later_cause_is_found_beside_what_was_noted(run: Run) -> None:
    answer(run, "able", finding=DANGER)
    answer(run, "other", finding=CAUSE)
    assert standing(run).side.search_is_over
    assert [(found.kind, found.cause and found.cause.key) for found in standing(run).found] == [
        (DANGER, None),
        (CAUSE, "cause-b"),
    ]


@pytest.mark.parametrize(
    "values", [{"outcome": "ruled_out", "finding": DANGER}, {"finding": BY_THE_WAY}, {"finding": "perhaps"}]
)
def test_the_database_keeps_no_half_finding(run: Run, values: dict[str, str]) -> None:
    made = answer(run, "able", finding=CAUSE)
    with pytest.raises(IntegrityError), transaction.atomic():
        Tick.objects.filter(pk=made.pk).update(**values)


class TestSideBySide:
    """Runs of one job: what is by the way for one complaint may be the other's cause."""

    @pytest.fixture
    def beside(self, run: Run) -> Run:
        other = ChecklistFactory(priors={"cause-a": 1})
        StepFactory(checklist=other, key="able", title=run.checklist.steps.get(key="able").title,
                    ends_search={"cause-a": 0.5}, answers={})  # fmt: skip
        StepFactory(checklist=other, key="unable", title=run.checklist.steps.get(key="unable").title,
                    ends_search={"cause-a": 0.9}, answers={})  # fmt: skip
        StepFactory(checklist=other, key="other", title=run.checklist.steps.get(key="other").title, ends_search={},
                    answers={})  # fmt: skip
        return start_run(checklist=other, facts={}, by=None, beside=run)

    @pytest.mark.parametrize("finding", [BY_THE_WAY, DANGER])
    def test_asked_alike_it_is_the_same_in_both(self, run: Run, beside: Run, finding: str) -> None:
        answer(run, "able", finding=finding)
        assert [found.kind for found in standing(beside).found] == [finding]
        assert not standing(beside).side.search_is_over
        answer(run, "able", finding=CAUSE)
        assert standing(beside).side.search_is_over

    def test_what_is_the_cause_of_one_is_by_the_way_where_it_can_be_none(self, run: Run, beside: Run) -> None:
        answer(run, "other", finding=CAUSE)
        assert [(found.kind, found.cause) for found in standing(beside).found] == [(BY_THE_WAY, None)]
        assert not standing(beside).side.search_is_over

    def test_by_the_way_here_it_is_asked_where_it_can_be_the_cause(self, run: Run, beside: Run) -> None:
        answer(run, "unable", finding=BY_THE_WAY)
        assert standing(beside).found == ()

    def test_begun_later_it_takes_over_what_was_noted(self, run: Run) -> None:
        answer(run, "able", finding=DANGER)
        other = ChecklistFactory(priors={"cause-a": 1})
        StepFactory(checklist=other, key="able", title=run.checklist.steps.get(key="able").title,
                    ends_search={"cause-a": 0.5}, answers={})  # fmt: skip
        begun = start_run(checklist=other, facts={}, by=None, beside=Run.objects.get(pk=run.pk))
        assert [found.kind for found in standing(begun).found] == [DANGER]
        assert not standing(begun).side.search_is_over
