"""A checklist with keys that nobody knows: services are recorded, pairs closed, lives counted, the spring answered."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.utils import timezone

from diagnosis.layout import read_checklist
from diagnosis.layout_fields import Fields
from diagnosis.loading import load_plan
from diagnosis.models import Cause, Checklist, Run
from diagnosis.runs import TypedReadings, start_run, tick
from diagnosis.runs_state import state_of, states_of
from diagnosis.shared_steps import waits_for
from diagnosis.spring_answer import Verdict
from diagnosis.spring_chances import predictions_for
from tests.factories import TicketFactory, TicketRunFactory
from tests.sucked_down import sucked_down_ticket
from workshop.intervals.models import ServiceDone, WeeklyHours
from workshop.intervals.services import record_services_done
from workshop.models import Ticket
from workshop.office.figures.period import Period
from workshop.office.figures.service_life import lives_by_component
from workshop.tickets.models import StateMove
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.spring import SpringStory, spring_story

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def reading(key: str, quantity: str, unit: str, high: str, measures: str) -> dict[str, Any]:
    return {
        "key": key, "label": key, "quantity": quantity, "unit": unit, "required": True, "low": f"0 {unit}",
        "high": high, "help": "As it stands.", "measures": measures,
    }  # fmt: skip


def step(key: str, kind: str = "work", **more: Any) -> dict[str, Any]:
    said = {"work": ("done",), "check": ("found", "ruled_out"), "proof": ("proved", "not_proved")}[kind]
    return {
        "key": key, "kind": kind, "title": key, "do": ["Do it."], "minutes": 3, "skill": "mechanic",
        "for_customer": "We did it.", "answers": {outcome: {"says": "So it is."} for outcome in said},
        **({"counts_as_found": "It is there."} if kind == "check" else {}), **more,
    }  # fmt: skip


def own_checklist(key: str, look: str) -> Checklist:
    data = {
        "layout": 1,
        "complaint": {"key": key, "title": key, "suits": ["fork"], "symptoms": [key]},
        "causes": [
            {"key": f"{key}-worn", "title": f"{key} worn", "for_customer": "It was worn.", "prior": 1,
             "ends_life": ["lower-oil"]},
        ],
        "checklist": {"key": key, "title": f"Our {key}", "summary": "Ours.", "kind": "complaint",
                      "chances_source": "common practice, no published source"},
        "steps": [
            step("hello", readings=[reading("how_deep", "length", "mm", "300 mm", "rest_depth"),
                                    reading("gauge", "pressure", "psi", "400 psi", "arrival_pressure")]),
            step(f"yank-{key}", "check", frees_port="by_hand", spring_answer=True, ends_search={f"{key}-worn": 0.4}),
            step("apart", needs=["hello"], closed_by="together", services=["lowers"]),
            step(look, "check", needs=["apart"], ends_search={f"{key}-worn": 0.9}),
            step("pour", needs=["apart"], services=["lowers"], renews=["lower-oil"]),
            step("together", needs=["apart", "pour"]),
            step("show", "proof", readings=[reading("gauge_now", "pressure", "psi", "400 psi", "pressure_set")]),
        ],
    }  # fmt: skip
    load_plan(plan=read_checklist(Fields(data, file=f"{key}.yaml"), {}), origin=Checklist.Origin.SHOP)
    return Checklist.objects.get(key=key, is_current=True)


def answer(run: Run, key: str, outcome: str = "done", cause: str = "", **typed: str) -> None:
    fresh = Run.objects.get(pk=run.pk)
    tick(
        run=fresh, step_key=key, outcome=outcome, by=None, seen_version=fresh.version, client_id=uuid.uuid4(),
        cause_key=cause, readings=TypedReadings(typed),
    )  # fmt: skip


@pytest.fixture
def ticket() -> Ticket:
    """The demo's sucked-down fork with no run yet."""
    ticket = sucked_down_ticket()
    ticket.ticket_runs.all().delete()
    return ticket


@pytest.fixture
def runs(ticket: Ticket) -> tuple[Run, Run]:
    """Two of the shop's own checklists on one fork."""
    first = start_run(checklist=own_checklist("grumbles", "peer"), facts=ticket.unit.facts(), by=None)
    second = start_run(checklist=own_checklist("weeps", "dab"), facts=ticket.unit.facts(), by=None, beside=first)
    for run in (first, second):
        TicketRunFactory.create(ticket=ticket, run=run)
    return first, second


def test_a_pair_is_closed_for_both_and_waits_for_who_wants_it_open(runs: tuple[Run, Run]) -> None:
    one, _ = runs
    answer(one, "hello", how_deep="70 mm", gauge="95 psi")
    answer(one, "apart")
    sides = [state_of(Run.objects.get(pk=run.pk)).side for run in runs]
    assert [side.outcomes.get("apart") for side in sides] == ["done", "done"]
    assert not sides[0].is_closed("apart")
    assert waits_for(sides, 0, "together") == [(1, "dab")]
    answer(one, "peer", "ruled_out")
    answer(one, "pour")
    answer(one, "together")
    sides = [state_of(Run.objects.get(pk=run.pk)).side for run in runs]
    assert sides[0].is_closed("apart")
    assert "apart" not in sides[1].outcomes  # the other still wants it open, so it takes it apart again


def test_its_service_is_recorded_once_every_part_of_it_is_done(ticket: Ticket, runs: tuple[Run, Run]) -> None:
    one, _ = runs
    answer(one, "hello", how_deep="70 mm", gauge="95 psi")
    answer(one, "apart")
    assert record_services_done(ticket=ticket, by=None) == []
    answer(one, "pour")
    (service,) = record_services_done(ticket=ticket, by=None)
    assert (service.level, service.told_by) == ("lowers", "Checklist “Our grumbles”")


def test_a_life_begins_with_its_step_and_ends_with_its_cause(ticket: Ticket, runs: tuple[Run, Run]) -> None:
    today = timezone.localdate()
    one, _ = runs
    WeeklyHours.objects.create(unit=ticket.unit, hours_per_week=7.0, since=today - 400 * DAY, at=timezone.now())
    answer(one, "hello", how_deep="70 mm", gauge="95 psi")
    answer(one, "apart")
    answer(one, "pour")
    Ticket.objects.filter(pk=ticket.pk).update(booked_at=timezone.now() - 201 * DAY, state=Ticket.State.HANDED_BACK)
    StateMove.objects.create(ticket=ticket, to_state=Ticket.State.HANDED_BACK, at=timezone.now() - 200 * DAY)
    period = Period(today - 300 * DAY, today)
    (life,) = lives_by_component(ticket.shop, period, today)["lower-oil"].lives
    assert (life.found_bad, life.ticket) == (False, ticket.pk)
    assert not ServiceDone.objects.exists()

    later = TicketFactory.create(
        shop=ticket.shop,
        number=ticket.number + 1,
        unit=ticket.unit,
        customer=ticket.customer,
        booked_at=timezone.now() - 50 * DAY,
    )
    run = start_run(checklist=Checklist.objects.get(key="weeps"), facts=ticket.unit.facts(), by=None)
    TicketRunFactory.create(ticket=later, run=run)
    answer(run, "hello", how_deep="70 mm", gauge="95 psi")
    answer(run, "yank-weeps", "found", "weeps-worn")
    later.complaints.add(run.checklist.complaint)
    StateMove.objects.create(ticket=later, to_state=Ticket.State.HANDED_BACK, at=timezone.now() - 49 * DAY)
    (life,) = lives_by_component(ticket.shop, period, today)["lower-oil"].lives
    assert (life.found_bad, life.ticket) == (True, later.pk)
    assert life.hours == pytest.approx(150)
    assert Cause.objects.get(key="weeps-worn").ends_life == ["lower-oil"]


def test_a_step_taken_back_begins_no_life(ticket: Ticket, runs: tuple[Run, Run]) -> None:
    today = timezone.localdate()
    one, _ = runs
    WeeklyHours.objects.create(unit=ticket.unit, hours_per_week=7.0, since=today - 400 * DAY, at=timezone.now())
    answer(one, "hello", how_deep="70 mm", gauge="95 psi")
    answer(one, "apart")
    answer(one, "pour")
    answer(one, "pour", "left_out")
    StateMove.objects.create(ticket=ticket, to_state=Ticket.State.HANDED_BACK, at=timezone.now() - 200 * DAY)
    assert not lives_by_component(ticket.shop, Period(today - 300 * DAY, today), today)["lower-oil"].lives


def test_the_spring_is_answered_and_its_verdict_stands_at_its_step(ticket: Ticket, runs: tuple[Run, Run]) -> None:
    one, _ = runs
    answer(one, "hello", how_deep="70 mm", gauge="95 psi")
    (state,) = states_of([Run.objects.get(pk=one.pk)])
    found = spring_story([state], ticket.unit, ticket.shop)
    assert isinstance(found, SpringStory)
    assert found.arrival.rest_travel_m == pytest.approx(0.070)
    assert found.arrival.is_stuck
    assert found.now is found.arrival
    assert predictions_for(Verdict.STUCK_PULLS_FREE, state.side.every_step).keys() == {"yank-grumbles"}
    assert [entry.key for entry in state.steps if entry.step.spring_answer] == ["yank-grumbles"]


def test_what_it_leaves_with_is_what_its_proof_read(ticket: Ticket, runs: tuple[Run, Run]) -> None:
    one, _ = runs
    for key in ("hello", "apart", "pour", "together"):
        answer(one, key, **({"how_deep": "70 mm", "gauge": "95 psi"} if key == "hello" else {}))
    answer(one, "show", "proved", gauge_now="82 psi")
    leaving = settings_as_it_leaves(ticket, states_of([Run.objects.get(pk=one.pk)]))
    assert leaving.settings.pressure_pa == pytest.approx(82 * 6894.757, rel=1e-5)
