"""A wait that was left early proves nothing: what it was to show is unknown until it is made again."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from diagnosis.layout import step_data
from diagnosis.models import Run, StepTimer, Tick
from diagnosis.runs import start_run
from diagnosis.runs_state import state_of, states_of
from tests.bench_runs import form_of, url
from tests.factories import ChecklistFactory, StepFactory, TicketRunFactory
from tests.shipped import shipped_folder
from tests.squeezed import squeezed
from workshop.documents.customer_report import gather_customer_report
from workshop.models import Ticket, User
from workshop.work.bench_proof import finish_bench_work
from workshop.work.moves import LeftOpen

pytestmark = pytest.mark.django_db
WAITS, ASKS, SOAKS, RIDES = "wait-for-air", "leave-it-wet", "lay-in-oil", "go-round"
WHY = {"reason-wait-not-kept": "The customer stood at the counter"}
HELD = {"reading-pressure_set": "80", "reading-pressure_recheck": "80"}
_SHIPPED = {
    ASKS: ("oil-at-seals", "leak-or-film"),
    SOAKS: ("routine-lowers-service", "foam-rings"),
    WAITS: ("oil-at-seals", "prove-pressure"),
    RIDES: ("oil-at-seals", "test-ride"),
}


@pytest.fixture
def own(ticket: Ticket) -> Run:
    """The shop's own checklist: shipped steps with a timer, under other keys and free of what comes before them."""
    checklist = ChecklistFactory()
    for position, (key, (checklist_key, shipped)) in enumerate(_SHIPPED.items()):
        step = next(step for step in shipped_folder().checklist(checklist_key).steps if step.key == shipped)
        free = {"needs": [WAITS] if key == RIDES else [], "requires": {}, "only_if": {}, "readings": []}
        given = step_data(step) | free | {"key": key, "position": position}
        if key == WAITS:
            given["readings"] = step_data(step)["readings"]
        StepFactory(checklist=checklist, **given)
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    Run.objects.filter(pk=run.pk).update(started_at=timezone.now() - dt.timedelta(hours=3))
    return run


def _answer(bench: Client, ticket: Ticket, run: Run, key: str, outcome: str, **sent: str) -> Any:
    return bench.post(url("answer", ticket, run.pk, key), form_of(run, outcome, **sent))


def _waited(run: Run, key: str, minutes: float) -> None:
    step = run.checklist.steps.get(key=key)
    began = timezone.now() - dt.timedelta(minutes=minutes)
    StepTimer.objects.create(run=run, step=step, seconds=60 * step.timer["minutes"], started_at=began)


def test_a_proof_left_early_proves_nothing_and_leaves_its_air_unknown(
    bench: Client, ticket: Ticket, own: Run, mechanic: User
) -> None:
    assert _answer(bench, ticket, own, WAITS, "proved", **HELD, **WHY).status_code == 302
    assert Tick.objects.get().outcome == "left_early"
    state = state_of(own)
    assert state.by_key[WAITS].tick is None
    assert WAITS in [one.key for one in state.missing_proof]
    assert state.unit.may_be_under_pressure == ["positive_air", "negative_air"]
    assert state.unit.open_parts == ["positive_air", "negative_air"]
    refused = _answer(bench, ticket, own, RIDES, "proved")
    assert refused.status_code == 422, "what needs the proof waits for it"
    ticket.refresh_from_db()
    with pytest.raises(LeftOpen):
        finish_bench_work(ticket=ticket, by=mechanic, seen_version=ticket.version, reason_without_proof="In a hurry")


def test_made_again_with_its_whole_wait_it_proves(bench: Client, ticket: Ticket, own: Run) -> None:
    _answer(bench, ticket, own, WAITS, "proved", **HELD, **WHY)
    Tick.objects.update(ticked_at=timezone.now() - dt.timedelta(hours=1))
    _waited(own, WAITS, 20.5)
    assert _answer(bench, ticket, own, WAITS, "proved", **HELD).status_code == 302
    state = state_of(own)
    assert state.by_key[WAITS].outcome == "proved"
    assert not state.unit.open_parts
    assert WAITS not in [one.key for one in state.missing_proof]


def test_the_page_says_that_it_was_left_early_and_papers_certify_nothing(
    bench: Client, ticket: Ticket, own: Run
) -> None:
    _answer(bench, ticket, own, WAITS, "proved", **HELD, **WHY)
    page = squeezed(bench.get(url("step", ticket, own.pk, SOAKS)).text)
    line = page.split('<ul class="unit-now__line">')[1].split("</ul>")[0]
    assert "Air chambers: not known" in line
    assert "Wait left early: Prove that the pressure holds" in line
    step = squeezed(bench.get(url("step", ticket, own.pk, WAITS)).text)
    assert "Its wait was left early, so it is asked again." in step
    data = gather_customer_report(Ticket.objects.with_names().get(pk=ticket.pk), "")
    assert not data["proof"]


def test_work_left_early_is_asked_again(bench: Client, ticket: Ticket, own: Run) -> None:
    refused = _answer(bench, ticket, own, SOAKS, "done")
    assert refused.status_code == 422
    assert "it does not count as done, and is asked for again" in squeezed(refused.text)
    assert _answer(bench, ticket, own, SOAKS, "done", **WHY).status_code == 302
    assert state_of(own).by_key[SOAKS].tick is None
    page = squeezed(bench.get(url("step", ticket, own.pk, WAITS)).text)
    assert "Wait left early: " in page.split('<ul class="unit-now__line">')[1].split("</ul>")[0]


def test_a_check_left_early_rules_nothing_out(bench: Client, ticket: Ticket, own: Run) -> None:
    refused = _answer(bench, ticket, own, ASKS, "ruled_out")
    assert refused.status_code == 422
    assert "it counts as “can’t tell”" in squeezed(refused.text)
    assert _answer(bench, ticket, own, ASKS, "ruled_out", **WHY).status_code == 302
    assert state_of(own).outcomes[ASKS] == "cant_tell"


@pytest.mark.parametrize("outcome", ["found::by_the_way", "cant_tell"])
def test_what_is_found_shows_before_and_who_cannot_tell_has_not_waited(
    bench: Client, ticket: Ticket, own: Run, outcome: str
) -> None:
    assert _answer(bench, ticket, own, ASKS, outcome).status_code == 302


def test_sent_again_it_is_the_same_answer(bench: Client, ticket: Ticket, own: Run) -> None:
    sent = form_of(own, "proved", **HELD, **WHY)
    assert bench.post(url("answer", ticket, own.pk, WAITS), sent).status_code == 302
    _waited(own, WAITS, 30)
    assert bench.post(url("answer", ticket, own.pk, WAITS), sent).status_code == 302
    assert Tick.objects.count() == 1


def test_nobody_can_choose_it(bench: Client, ticket: Ticket, own: Run) -> None:
    assert _answer(bench, ticket, own, WAITS, "left_early", **HELD).status_code == 422
    assert not Tick.objects.exists()


def test_the_other_run_of_the_job_counts_it_no_more_either(bench: Client, ticket: Ticket, own: Run) -> None:
    beside = start_run(checklist=_copy_of(own), facts=ticket.unit.facts(), by=None, beside=own)
    TicketRunFactory(ticket=ticket, run=beside)
    Tick.objects.create(run=own, step=own.checklist.steps.get(key=WAITS), outcome="proved", ticked_at=timezone.now())
    Tick.objects.create(
        run=beside, step=beside.checklist.steps.get(key=WAITS), outcome="proved", ticked_at=timezone.now(),
        counted_from=Tick.objects.get(),
    )  # fmt: skip
    Run.objects.update(version=2)
    assert _answer(bench, ticket, own, WAITS, "proved", **HELD, **WHY).status_code == 302
    states = states_of(Run.objects.filter(job=own.job))
    assert [WAITS in state.outcomes for state in states] == [False, False]


def _copy_of(run: Run) -> Any:
    checklist = ChecklistFactory()
    for step in run.checklist.steps.all():
        step.pk, step.checklist = None, checklist
        step.save(force_insert=True)
    return checklist
