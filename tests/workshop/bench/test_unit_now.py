"""How the unit is now, in a line on every step: one tap to the answer that says so, one to say it is otherwise."""

from __future__ import annotations

import uuid
from dataclasses import replace

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from diagnosis.models import Run
from diagnosis.runs import take_back
from diagnosis.runs_state import state_of, states_of
from tests.bench_runs import answered, arrived, form_of, url
from tests.factories import UserFactory
from tests.known import known
from tests.squeezed import squeezed
from workshop.bench.unit_now import unit_now
from workshop.models import Ticket

pytestmark = pytest.mark.django_db
AIR_OUT = "all-air-out"


def said(run: Run) -> dict[str, str]:
    """Each clause and the step it follows from."""
    state = state_of(Run.objects.get(pk=run.pk))
    return {now.briefly: known(now.step).key for now in unit_now(state, [state])}


def emptied(run: Run) -> None:
    arrived(run)
    answered(run, "wheel-out", "done")
    answered(run, "caliper-off", "done")
    answered(run, AIR_OUT, "done")


def test_a_unit_nobody_opened_has_nothing_to_say(bench: Client, ticket: Ticket, run: Run) -> None:
    assert not said(run)
    assert "unit-now" not in bench.get(url("step", ticket, run.pk, "record-arrival")).text


def test_what_was_opened_is_said_with_its_step(run: Run) -> None:
    emptied(run)
    assert said(run) == {
        "Air chambers empty": AIR_OUT,
        "Caliper removed, brakes untried": "caliper-off",
        "Wheel out, axle loose": "wheel-out",
    }


def test_every_step_shows_it_and_leads_there(bench: Client, ticket: Ticket, run: Run) -> None:
    emptied(run)
    for key in ("record-arrival", "lowers-off", "prove-sag"):
        page = squeezed(bench.get(url("step", ticket, run.pk, key)).text)
        line = page.split('<ul class="unit-now__line">')[1].split("</ul>")[0]
        assert "Wheel out, axle loose" in line
        assert f'href="{url("step", ticket, run.pk, AIR_OUT)}"' in line


def test_one_tap_says_it_is_otherwise_and_that_is_unknown(bench: Client, ticket: Ticket, run: Run) -> None:
    """Somebody pumped it up to look: nobody knows any more whether it is empty, and nothing may be opened on it."""
    emptied(run)
    page = squeezed(bench.get(url("step", ticket, run.pk, "lowers-off")).text)
    assert "Not so: the positive air chamber is empty; the negative air chamber is empty</button>" in page
    answer = bench.post(url("take_back", ticket, run.pk, AIR_OUT), form_of(run, ""))
    assert answer.status_code == 302
    assert said(run)["Air chambers: not known"] == AIR_OUT
    after = squeezed(bench.get(url("step", ticket, run.pk, "foot-fasteners-off")).text)
    assert "unit-now__part--doubtful" in after
    assert "Not so: nobody has made sure" not in after, "what nobody knows cannot be said to be otherwise again"
    refused = bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), form_of(run, "done"))
    assert refused.status_code == 422


def test_what_is_closed_again_is_said_no_more(run: Run) -> None:
    emptied(run)
    state = state_of(Run.objects.get(pk=run.pk))
    back = replace(state.unit, conditions={**state.unit.conditions, "wheel": "in", "axle": "tight"})
    words = [now.briefly for now in unit_now(replace(state, unit=back), [state])]
    assert words == ["Air chambers empty", "Caliper removed, brakes untried"]


def test_an_answer_taken_back_leaves_a_doubt(run: Run) -> None:
    emptied(run)
    fresh = Run.objects.get(pk=run.pk)
    take_back(run=fresh, step_key="caliper-off", by=None, seen_version=fresh.version, client_id=uuid.uuid4())
    assert said(run)["Caliper: not known, brakes: not known"] == "caliper-off"


def test_who_only_looks_is_offered_no_change(client: Client, ticket: Ticket, run: Run) -> None:
    emptied(run)
    client.force_login(UserFactory(shop=ticket.shop))
    page = client.get(url("step", ticket, run.pk, "lowers-off")).text
    assert "unit-now__line" in page
    assert "unit-now__otherwise" not in page


def test_a_page_kept_for_later_says_nothing_of_it(bench: Client, ticket: Ticket, run: Run) -> None:
    emptied(run)
    kept = bench.get(url("panels", ticket, run.pk)).json()
    assert "unit-now" not in kept["shell"]
    assert not any("unit-now" in panel["html"] for panel in kept["steps"].values())


def test_it_costs_no_query(run: Run, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    emptied(run)
    states = states_of([Run.objects.get(pk=run.pk)])
    with django_assert_num_queries(0):
        assert unit_now(states[0], states)
