"""From the bench to ready: with the proof, or with a reason."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from diagnosis.models import Reading, Run
from tests.bench_runs import HTMX, answered, arrived, form_of, url
from tests.factories import (
    TicketFactory,
    UserFactory,
)
from tests.logbook import logged
from workshop.models import Shop, Ticket, User
from workshop.work.moves import ProofMissing, move

pytestmark = pytest.mark.django_db


def prove_all(run: Run) -> None:
    arrived(run)
    answered(run, "pressure-and-cycle", "found")
    answered(run, "prove-pressure", "proved", {"pressure_set": "80 psi", "pressure_recheck": "80 psi"})
    answered(run, "prove-rest", "proved", {"rest_travel": "4 mm"})
    answered(run, "prove-clicks", "proved", {"rebound_clicks": "7"})
    answered(run, "prove-brakes", "proved")
    answered(run, "prove-sag", "proved", {"sag": "25 mm"})
    answered(run, "test-ride", "proved")


def test_with_the_proof_the_ticket_is_ready(bench: Client, ticket: Ticket, run: Run) -> None:
    prove_all(run)
    answer = bench.post(url("finish", ticket), {"version": ticket.version, "reason": ""})
    assert answer["Location"] == reverse("bench:board")
    ticket.refresh_from_db()
    assert ticket.state == "ready"


def test_without_it_the_page_says_what_is_missing(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    answer = bench.post(url("finish", ticket), {"version": ticket.version, "reason": ""})
    assert answer.status_code == 422
    assert "Still to be proved on the bench: “Prove that the pressure holds”" in answer.text
    ticket.refresh_from_db()
    assert ticket.state == "on_the_bench"


def test_a_reason_lets_it_go_and_is_logged(bench: Client, ticket: Ticket, run: Run) -> None:
    bench.post(url("finish", ticket), {"version": ticket.version, "reason": "Goes on to the damper specialist"})
    ticket.refresh_from_db()
    assert ticket.state == "ready"
    lines = " ".join(logged(ticket))
    assert "Ready without proof: “Prove that the pressure holds”" in lines
    assert "Goes on to the damper specialist" in lines


def test_the_plain_move_is_held_back_too(ticket: Ticket, run: Run, shop: Shop) -> None:
    clerk = UserFactory(shop=shop)
    for more in ({}, {"reason": "In a hurry", "without_proof": True}):
        with pytest.raises(ProofMissing):
            move(ticket=ticket, to_state="ready", by=clerk, seen_version=1, **more)  # type: ignore[arg-type]
        ticket.refresh_from_db()
    assert ticket.state == "on_the_bench"


def test_a_complaint_whose_checklist_was_never_begun_is_held_back(ticket: Ticket, mechanic: User) -> None:
    with pytest.raises(ProofMissing, match="“Sits low in its travel” was not worked through"):
        move(ticket=ticket, to_state="ready", by=mechanic, seen_version=1)


def test_a_ticket_without_checklists_has_nothing_to_prove(shop: Shop, mechanic: User) -> None:
    ticket = TicketFactory(shop=shop, state="on_the_bench")
    move(ticket=ticket, to_state="ready", by=mechanic, seen_version=1)
    assert ticket.state == "ready"


def test_a_proof_taken_back_is_missing_again(bench: Client, ticket: Ticket, run: Run) -> None:
    prove_all(run)
    form = {"version": Run.objects.get(pk=run.pk).version, "client_id": str(uuid.uuid4())}
    bench.post(url("take_back", ticket, run.pk, "prove-rest"), form)
    answer = bench.post(url("finish", ticket), {"version": ticket.version, "reason": ""})
    assert "“Prove the rest position”" in answer.text


def test_a_doubtful_reading_is_not_proof_without_a_word_why(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    address = url("answer", ticket, run.pk, "prove-rest")
    form = form_of(run, "proved", **{"reading-rest_travel": "28"})
    refused = bench.post(address, form)
    assert refused.status_code == 422
    assert "Deeper than usual." in refused.text
    assert "common practice, no published source" in refused.text
    assert bench.post(address, form | {"note": "Coil side, preload off"}).status_code == 302


def test_readings_are_judged_before_they_are_saved(bench: Client, ticket: Ticket, run: Run) -> None:
    form = {"reading-rest_travel": "4"}
    answer = bench.post(url("judge", ticket, run.pk, "prove-rest"), form, **HTMX)
    assert "Within what is usual." in answer.text
    assert not Reading.objects.exists()
