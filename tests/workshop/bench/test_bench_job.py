"""Two complaints of a ticket worked as one job at the bench."""

from __future__ import annotations

import uuid

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from diagnosis.models import Run, StepTimer, Tick
from diagnosis.runs_state import states_of
from tests.bench_runs import answered, arrived, form_of, url
from tests.factories import PhotoFactory
from tests.shipped import shipped_checklist
from tests.squeezed import squeezed
from workshop.bench.bench_times import ticket_time
from workshop.charges.labour import planned_minutes
from workshop.documents import customer_report, work_order
from workshop.models import Ticket, User
from workshop.work.proof import missing_proof_of
from workshop.work.work import start_checklist

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
    assert 'value="28"' in page
    assert "Complaints of this job" in page


def test_what_was_kept_at_a_shared_step_shows_in_the_other_run_before_it_is_answered(
    bench: Client, ticket: Ticket, run: Run, oily: Run
) -> None:
    photo = PhotoFactory(ticket=ticket, step=run.checklist.steps.get(key="prove-pressure"))
    bench.post(url("start_timer", ticket, run.pk, "prove-pressure"), {"client_id": str(uuid.uuid4())})
    timer = StepTimer.objects.get()
    page = bench.get(url("step", ticket, oily.pk, "prove-pressure")).text
    address = reverse("counter:small_photo", args=[photo.pk])
    assert address in _photos_of_the_step(page)
    assert f'value="{timer.client_id}"' in page
    assert page.count("data-ends=") == 1
    elsewhere = bench.get(url("step", ticket, oily.pk, "record-arrival")).text
    assert address not in _photos_of_the_step(elsewhere)
    assert elsewhere.count("data-ends=") == 1
    assert bench.get(url("ticket", ticket)).text.count("data-ends=") == 1
    bench.post(url("stop_timer", ticket, oily.pk, "prove-pressure"), {"timer": str(timer.client_id)})
    assert "data-ends=" not in bench.get(url("ticket", ticket)).text


def _photos_of_the_step(page: str) -> str:
    return page.split('id="step-photos"')[1].split("</div>")[0]


def test_a_note_shows_in_the_other_run_too(bench: Client, ticket: Ticket, run: Run, oily: Run) -> None:
    form = form_of(run, "done", note="Dent in the left lower", **{"reading-rest_travel": "28"})
    bench.post(url("answer", ticket, run.pk, "record-arrival"), form)
    assert "Dent in the left lower</textarea>" in bench.get(url("step", ticket, oily.pk, "record-arrival")).text


def test_a_step_asked_again_for_other_causes_shows_what_was_written_the_first_time(
    bench: Client, ticket: Ticket, run: Run, oily: Run
) -> None:
    arrived(run)
    answered(run, "clean-outside", "done")
    form = form_of(run, "found", note="Left lip is torn")
    bench.post(url("answer", ticket, run.pk, "inspect-wipers"), form)
    page = bench.get(url("step", ticket, oily.pk, "inspect-wipers")).text
    assert "It looks for another cause here" in page
    assert "Note: “Left lip is torn”" in page


def test_a_finding_that_answers_two_complaints_is_told_in_full_once(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    harsh = start_checklist(ticket=ticket, checklist=shipped_checklist("harsh-or-sticky"), by=mechanic)
    arrived(run)
    answered(run, "clean-outside", "done")
    form = form_of(run, "found:wiper-drag", note="Left lip is torn")
    bench.post(url("answer", ticket, run.pk, "inspect-wipers"), form)
    assert Tick.objects.filter(run=harsh, step__key="inspect-wipers", outcome="found").exists()
    first, second = customer_report.gather_customer_report(ticket, "")["searches"]
    assert [(cause["title"], cause["told_in"]) for cause in first["found"]] == [("Dry or dirty wipers drag", "")]
    assert [cause["told_in"] for cause in second["found"]] == ["Sits low in its travel"]
    printed = render_to_string(
        "documents/customer_report.html", {"doc": customer_report.gather_customer_report(ticket, "")}
    )
    assert printed.count("Left lip is torn") == 1
    assert bench.get(url("ticket", ticket)).text.count("Left lip is torn") == 1


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
    first, second = work_order.gather_work_order(ticket, "")["checklists"]
    printed = [step["title"] for block in (first, second) for step in block["steps"]]
    assert printed.count("Lowers off") == 1
    assert "Lowers off" in second["shared"]
    low, oil = customer_report.gather_customer_report(ticket, "")["searches"]
    assert (low["title"], oil["title"]) == ("Sits low in its travel", "Oil at the seals")


def test_the_report_says_what_was_tried_first_and_what_that_rules_out(ticket: Ticket, run: Run) -> None:
    arrived(run)
    answered(run, "pressure-and-cycle", "ruled_out")
    answered(run, "clean-outside", "done")
    answered(run, "bleed-legs", "found")
    (search,) = customer_report.gather_customer_report(ticket, "")["searches"]
    assert search["tried"][0]["rules_out"] == "too little air, or never equalised"
    assert search["tried"][0]["did"] == "We set the pressure properly and watched whether the fork came up."
    assert [cause["title"] for cause in search["found"]] == ["Low pressure trapped in the lower legs"]
    assert search["found"][0]["cure"].startswith("Bleed both legs.")


def test_the_report_says_what_was_read_and_seen(ticket: Ticket, run: Run, oily: Run) -> None:
    arrived(run)
    answered(oily, "oil-on-brake", "found")
    report = customer_report.gather_customer_report(ticket, "")
    assert [(item["title"], item["seen"]) for item in report["also_found"]] == [
        ("", "There is oil on disc, pads or caliper.")
    ]
    printed = render_to_string("documents/customer_report.html", {"doc": report})
    assert "<strong>Found:</strong> There is oil on disc, pads or caliper." in printed


def test_the_report_gives_the_readings_of_a_look_in_the_shops_units(ticket: Ticket, run: Run, mechanic: User) -> None:
    loses = start_checklist(ticket=ticket, checklist=shipped_checklist("loses-air"), by=mechanic)
    arrived(run)
    typed = {"pressure_start": "82 psi", "pressure_hose": "80 psi", "pressure_after_wait": "5 bar"}
    answered(loses, "prove-the-loss", "ruled_out", typed)
    report = customer_report.gather_customer_report(ticket, "")
    (look,) = report["searches"][1]["tried"]
    read = [f"{row['label']}: {row['value']}" for row in look["read"]]
    assert read[1:] == ["Reading after pump off and on: 80 psi", "Reading after the wait: 72.5 psi"]
    assert look["rules_out"] == "only the pump’s hose takes air; too little air, or never equalised"
    printed = squeezed(render_to_string("documents/customer_report.html", {"doc": report}))
    assert "Reading after the wait: 72.5 psi</span>. Not the cause: only the pump" in printed


@pytest.mark.parametrize("runs", [1, 2])
def test_a_step_page_asks_as_much_for_two_complaints_as_for_one(
    bench: Client,
    ticket: Ticket,
    run: Run,
    mechanic: User,
    runs: int,
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    if runs == 2:
        start_checklist(ticket=ticket, checklist=shipped_checklist("oil-at-seals"), by=mechanic)
    arrived(run)
    bench.get(url("step", ticket, run.pk, "bleed-legs"))
    with django_assert_max_num_queries(15):
        bench.get(url("step", ticket, run.pk, "bleed-legs"))
