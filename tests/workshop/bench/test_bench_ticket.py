"""The bench page of a ticket: its checklists, and waiting."""

from __future__ import annotations

import pytest
from django.test import Client

from diagnosis.models import Run
from tests.bench_runs import answered, url
from workshop.models import Ticket

pytestmark = pytest.mark.django_db


def test_the_complaint_suggests_its_checklist(bench: Client, ticket: Ticket) -> None:
    answer = bench.get(url("ticket", ticket))
    assert [entry.key for entry in answer.context["suggested"]] == ["sits-low"]


def test_starting_it_twice_gives_one_run(bench: Client, ticket: Ticket) -> None:
    for _ in range(2):
        answer = bench.post(url("start", ticket, "sits-low"))
    assert Run.objects.count() == 1
    assert answer["Location"] == url("run", ticket, Run.objects.get().pk)


def test_a_checklist_begun_by_mistake_is_put_away(bench: Client, ticket: Ticket, run: Run) -> None:
    bench.post(url("put_away", ticket, run.pk))
    assert not Run.objects.exists()


def test_a_checklist_that_was_ticked_stays(bench: Client, ticket: Ticket, run: Run) -> None:
    answered(run, "record-arrival", "left_out")
    answer = bench.post(url("put_away", ticket, run.pk), follow=True)
    assert "stays with the ticket" in answer.text
    assert Run.objects.exists()


def test_it_waits_for_the_customers_answer(bench: Client, ticket: Ticket) -> None:
    form = {"version": ticket.version, "waiting_for": "customer", "reason": "New upper assembly?"}
    bench.post(url("wait", ticket), form)
    ticket.refresh_from_db()
    assert ticket.state_words == "Waiting for the customer’s answer"
    assert ticket.moves.get().reason == "New upper assembly?"
