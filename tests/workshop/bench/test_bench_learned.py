"""What the shop's own handed-back tickets teach, in how many queries."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.cache import cache
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from diagnosis.models import Cause, Checklist, MinutesCorrection, Run, Step, Tick
from tests.factories import ShopFactory, TicketFactory, TicketRunFactory, TickFactory
from tests.shipped import shipped_checklist
from workshop.models import Shop, Ticket, TicketRun
from workshop.work.learned import learned_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def checklist() -> Checklist:
    return shipped_checklist("sits-low")


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def closed(
    shop: Shop, checklist: Checklist, cause: str, *, state: str = "handed_back", kind: str = "air", ended: bool = True
) -> Run:
    """A ticket on which the legs were bled, which cured it, after nine minutes."""
    run = Run.objects.create(
        checklist=checklist, facts={"kind": "fork", "spring_kind": kind}, ended_at=timezone.now() if ended else None
    )
    TicketRunFactory(ticket=TicketFactory(shop=shop, state=state), run=run)
    ticked_at = timezone.now() + dt.timedelta(minutes=9)
    step = Step.objects.get(checklist=checklist, key="bleed-legs")
    TickFactory(run=run, step=step, outcome="found", cause=Cause.objects.get(key=cause), ticked_at=ticked_at)
    return run


def test_handed_back_tickets_count_by_cause_and_spring_kind(shop: Shop, checklist: Checklist) -> None:
    closed(shop, checklist, "leg-vacuum")
    closed(shop, checklist, "leg-vacuum", kind="coil")
    learned = learned_for(shop, checklist.complaint)
    assert learned.tickets_by_kind == {"air": {"leg-vacuum": 1}, "coil": {"leg-vacuum": 1}}
    assert learned.minutes["bleed-legs"] == pytest.approx((9.0, 9.0), abs=0.1)


def test_open_tickets_and_other_shops_teach_nothing(shop: Shop, checklist: Checklist) -> None:
    closed(shop, checklist, "leg-vacuum", state="ready")
    closed(ShopFactory(), checklist, "leg-vacuum")
    assert learned_for(shop, checklist.complaint).closed == 0


def test_older_versions_of_the_checklist_count_too(shop: Shop, checklist: Checklist) -> None:
    closed(shop, checklist, "leg-vacuum")
    Checklist.objects.filter(pk=checklist.pk).update(is_current=False)
    assert learned_for(shop, checklist.complaint).closed == 1


def test_the_latest_correction_of_a_step_counts(shop: Shop, checklist: Checklist) -> None:
    run = closed(shop, checklist, "leg-vacuum")
    for minutes in (3, 4):
        MinutesCorrection.objects.create(run=run, step=Tick.objects.get(run=run).step, minutes=minutes)
    assert learned_for(shop, checklist.complaint).minutes["bleed-legs"] == (4.0,)


def test_it_takes_three_queries_once_however_many_tickets_there_are(
    shop: Shop, checklist: Checklist, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(5):
        closed(shop, checklist, "leg-vacuum")
    complaint = checklist.complaint
    with django_assert_num_queries(3):
        assert learned_for(shop, complaint).closed == 5
    with django_assert_num_queries(0):
        assert learned_for(shop, complaint).closed == 5
    cache.clear()
    closed(shop, checklist, "port-blocked")
    with django_assert_num_queries(3):
        assert learned_for(shop, complaint).closed == 6


def test_a_search_that_was_broken_off_teaches_minutes_but_no_causes(shop: Shop, checklist: Checklist) -> None:
    closed(shop, checklist, "leg-vacuum", ended=False)
    learned = learned_for(shop, checklist.complaint)
    assert (learned.closed, learned.without_cause, learned.tickets_by_kind) == (0, 0, {})
    assert learned.minutes["bleed-legs"] == pytest.approx((9.0,), abs=0.1)


def test_a_come_back_within_90_days_takes_back_the_cause(shop: Shop, checklist: Checklist) -> None:
    first = TicketRun.objects.get(run=closed(shop, checklist, "leg-vacuum")).ticket
    Ticket.objects.filter(pk=first.pk).update(
        booked_at=timezone.now() - dt.timedelta(days=102), state_since=timezone.now() - dt.timedelta(days=100)
    )
    first.complaints.add(checklist.complaint)
    other = TicketFactory(shop=shop, unit=first.unit, customer=first.customer, state="booked_in")
    other.complaints.add(shipped_checklist("knocks-or-play").complaint)
    Ticket.objects.filter(pk=other.pk).update(booked_at=timezone.now() - dt.timedelta(days=50))
    assert learned_for(shop, checklist.complaint).tickets_by_kind == {"air": {"leg-vacuum": 1}}, "another complaint"
    Ticket.objects.filter(pk=other.pk).update(state="handed_back", state_since=timezone.now() - dt.timedelta(days=49))
    again = TicketFactory(shop=shop, unit=first.unit, customer=first.customer, state="booked_in")
    again.complaints.add(checklist.complaint)
    for days_ago, back in ((9, 0), (11, 1), (99, 1), (101, 0)):
        Ticket.objects.filter(pk=again.pk).update(booked_at=timezone.now() - dt.timedelta(days=days_ago))
        cache.clear()
        learned = learned_for(shop, checklist.complaint)
        assert (learned.came_back, learned.tickets_by_kind) == (back, {} if back else {"air": {"leg-vacuum": 1}}), (
            days_ago
        )
    Ticket.objects.filter(pk=again.pk).update(booked_at=timezone.now() - dt.timedelta(days=20), state="called_off")
    cache.clear()
    assert learned_for(shop, checklist.complaint).came_back == 0
