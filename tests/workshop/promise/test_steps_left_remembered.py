"""What is left of a run is worked out once for all that it follows from, and anew as soon as any of that changes."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator
from typing import Any

import pytest
from django.utils import timezone

from diagnosis.layout import applies
from diagnosis.layout_plans import CHECK
from diagnosis.models import Checklist, Run
from diagnosis.runs import start_run
from tests.factories import TicketFactory, TicketRunFactory, TickFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.models import Shop, Ticket, TicketRun, User
from workshop.promise import queued
from workshop.promise.queued import queued_minutes, queued_tickets

pytestmark = pytest.mark.django_db


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """The checklists of the runs that were worked out, one after the other."""
    made: list[int] = []
    plainly = queued._worked_out

    def noting(checklist: Checklist, *given: Any) -> Any:
        made.append(checklist.pk)
        return plainly(checklist, *given)

    monkeypatch.setattr(queued, "_worked_out", noting)
    queued._REMEMBERED.clear()
    yield made
    queued._REMEMBERED.clear()


@pytest.fixture
def shop() -> Shop:
    return known(UserFactory(mechanic=True).shop)


def on_the_bench(shop: Shop, *keys: str) -> Ticket:
    """A ticket with a run of each of these checklists, which are old enough to stay as they are."""
    lists = [shipped_checklist(key) for key in keys]
    Checklist.objects.update(made_at=timezone.now() - dt.timedelta(days=1))
    ticket: Ticket = TicketFactory(shop=shop, state="on_the_bench", mechanic=User.objects.filter(shop=shop).first())
    for checklist in lists:
        ticket.complaints.add(checklist.complaint)
        fresh = Checklist.objects.get(pk=checklist.pk)
        TicketRunFactory(ticket=ticket, run=start_run(checklist=fresh, facts=ticket.unit.facts(), by=None))
    return ticket


def runs_of(ticket: Ticket) -> list[Run]:
    return [row.run for row in TicketRun.objects.filter(ticket=ticket).select_related("run__checklist")]


def minutes(shop: Shop) -> dict[int, float]:
    return queued_minutes(shop, queued_tickets(shop), 60)


def anew(shop: Shop) -> dict[int, float]:
    """Without what is remembered, which stays as it is."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(queued, "_REMEMBERED", {})
        return minutes(shop)


def test_a_second_look_works_nothing_out_and_a_tick_its_own_run(shop: Shop, worked_out: list[int]) -> None:
    ticked, other = on_the_bench(shop, "sits-low"), on_the_bench(shop, "loses-air")
    first = minutes(shop)
    assert len(worked_out) == 2
    assert minutes(shop) == first
    assert len(worked_out) == 2
    (run,) = runs_of(ticked)
    step = known(run.checklist.steps.order_by("position").first())
    TickFactory(run=run, step=step, outcome="done")
    then = minutes(shop)
    assert worked_out[2:] == [run.checklist_id]
    assert then[ticked.pk] < first[ticked.pk]
    assert then[other.pk] == first[other.pk]


def test_another_fork_of_the_same_answers_has_its_own(shop: Shop, worked_out: list[int]) -> None:
    on_the_bench(shop, "sits-low")
    coil = on_the_bench(shop, "sits-low")
    Run.objects.filter(pk__in=[run.pk for run in runs_of(coil)]).update(facts={"kind": "fork", "spring": "coil"})
    one, other = minutes(shop).values()
    assert len(worked_out) == 2
    assert one != other


@pytest.mark.parametrize("seed", range(8))
def test_whatever_is_answered_and_taken_back_it_is_what_is_worked_out_anew(
    shop: Shop, worked_out: list[int], seed: int
) -> None:
    """Of two forks the same steps are answered, often otherwise."""
    chance = random.Random(seed)
    tickets = [on_the_bench(shop, "sits-low", "loses-air") for _ in range(2)]
    runs = [runs_of(ticket) for ticket in tickets]
    seen = set()
    for _ in range(15):
        place = chance.randrange(2)
        first = runs[0][place]
        step = chance.choice([step for step in first.checklist.steps.all() if applies(step, first.facts) != "no"])
        outcomes = ["found", "ruled_out", "taken_back"] if step.kind == CHECK else ["done", "taken_back"]
        for both in runs:
            TickFactory(run=both[place], step=step, outcome=chance.choice(outcomes))
        remembered = minutes(shop)
        assert remembered == anew(shop)
        seen |= set(remembered.values())
    assert len(seen) > 2


def test_a_version_that_is_just_being_made_is_not_remembered(shop: Shop, worked_out: list[int]) -> None:
    on_the_bench(shop, "sits-low")
    Checklist.objects.update(made_at=timezone.now())
    minutes(shop)
    minutes(shop)
    assert len(worked_out) == 2
    assert not queued._REMEMBERED
