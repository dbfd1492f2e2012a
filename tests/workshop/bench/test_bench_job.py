"""Two complaints of a ticket worked as one job at the bench."""

from __future__ import annotations

import pytest
from django.test import Client

from diagnosis.models import Run
from diagnosis.runs_state import states_of
from tests.bench_runs import answered, arrived, form_of, url
from tests.shipped import shipped_checklist
from workshop.bench.bench_times import ticket_time
from workshop.bench.work import start_checklist
from workshop.charges.labour import planned_minutes
from workshop.documents import customer_report, work_order
from workshop.models import Ticket, User
from workshop.tickets.proof import missing_proof_of

OUTSIDE = ("pressure-and-cycle", "inspect-stanchions", "inspect-wipers", "free-the-wipers", "bleed-legs")


@pytest.fixture
def oily(ticket: Ticket, run: Run, mechanic: User) -> Run:
    checklist = shipped_checklist("oil-at-seals")
    ticket.complaints.add(checklist.complaint)
    return start_checklist(ticket=ticket, checklist=checklist, by=mechanic)


def test_an_answer_shows_in_the_other_run_with_where_it_was_given(
    bench: Client, ticket: Ticket, run: Run, oily: Run
) -> None:
    bench.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "done", **{"reading-rest_travel": "28"}))
    page = bench.get(url("step", ticket, oily.pk, "record-arrival")).content.decode()
    assert "in “Sits low in its travel”" in page
    assert 'value="28 mm"' in page
    assert "Complaints of this job" in page


def test_the_job_goes_on_in_the_run_that_needs_nothing_taken_apart(
    bench: Client, ticket: Ticket, run: Run, oily: Run
) -> None:
    arrived(run)
    answered(run, "clean-outside", "done")
    for key in OUTSIDE:
        answered(run, key, "ruled_out")
    answer = bench.get(url("run", ticket, run.pk))
    assert answer["Location"] == url("step", ticket, oily.pk, "oil-on-brake")


def test_minutes_labour_and_proof_count_a_shared_step_once(ticket: Ticket, run: Run, oily: Run) -> None:
    arrived(run)
    states = states_of([run, oily])
    rows = ticket_time(states).rows
    assert [row.state.key for row in rows] == ["record-arrival", "arrival-pressure", "record-clicks"]
    assert planned_minutes(ticket) == sum(row.state.step.minutes for row in rows)
    words = [entry.words for entry in missing_proof_of(ticket, states)]
    assert len(words) == len(set(words))
    assert {"Prove that it stays dry", "Prove the rest position"} <= set(words)


def test_papers_print_a_shared_step_once(ticket: Ticket, run: Run, oily: Run) -> None:
    arrived(run)
    first, second = work_order.gather(ticket, "")["checklists"]
    printed = [step["title"] for block in (first, second) for step in block["steps"]]
    assert printed.count("Lowers off") == 1
    assert "Lowers off" in second["shared"]
    low, oil = customer_report.gather(ticket, "")["searches"]
    assert (low["title"], oil["title"]) == ("Sits low in its travel", "Oil at the seals")


def test_the_report_says_what_was_tried_first_and_what_that_rules_out(ticket: Ticket, run: Run) -> None:
    arrived(run)
    answered(run, "pressure-and-cycle", "ruled_out")
    answered(run, "clean-outside", "done")
    answered(run, "bleed-legs", "found")
    (search,) = customer_report.gather(ticket, "")["searches"]
    assert search["tried"][0]["rules_out"] == "too little air, or never equalised"
    assert [cause["title"] for cause in search["found"]] == ["Low pressure trapped in the lower legs"]
    assert search["found"][0]["cure"].startswith("Bleed both legs.")


@pytest.mark.parametrize("runs", [1, 2])
def test_a_step_page_asks_as_much_for_two_complaints_as_for_one(
    bench: Client, ticket: Ticket, run: Run, mechanic: User, runs: int, django_assert_max_num_queries: object
) -> None:
    if runs == 2:
        start_checklist(ticket=ticket, checklist=shipped_checklist("oil-at-seals"), by=mechanic)
    arrived(run)
    bench.get(url("step", ticket, run.pk, "bleed-legs"))
    with django_assert_max_num_queries(14):  # type: ignore[operator]
        bench.get(url("step", ticket, run.pk, "bleed-legs"))
