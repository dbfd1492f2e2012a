"""A clock that is set back stops no work: what ends does so no earlier than it began, or as the clock says."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from diagnosis.models import StepTimer
from diagnosis.runs import tick
from diagnosis.runs_timers import stop_timer
from tests import factories as make
from workshop.links.links import make_link, withdraw_link
from workshop.models import CustomerLink, PurchaseOrder
from workshop.stock.ordering import close_order, place_order

pytestmark = pytest.mark.django_db
NOW = dt.datetime(2026, 3, 5, 12, tzinfo=dt.UTC)
LATER = dt.timedelta(hours=1)


def test_a_timer_ran_for_no_time() -> None:
    run = make.RunFactory()
    step = make.StepFactory(checklist=run.checklist)
    timer = StepTimer.objects.create(run=run, step=step, seconds=60, started_at=NOW)
    stop_timer(run=run, client_id=timer.client_id, stopped_at=NOW - LATER)
    timer.refresh_from_db()
    assert timer.stopped_at == NOW


def test_a_run_ends_when_it_began() -> None:
    run = make.RunFactory()
    step = make.StepFactory(checklist=run.checklist)
    tick(
        run=run, step_key=step.key, outcome="ruled_out", by=None, seen_version=run.version, client_id=uuid.uuid4(),
        ticked_at=run.started_at - dt.timedelta(minutes=9),
    )  # fmt: skip
    run.refresh_from_db()
    assert run.ended_at == run.started_at


def test_a_link_is_withdrawn() -> None:
    link, _ = make_link(ticket=make.TicketFactory(), by=None)
    CustomerLink.objects.update(made_at=timezone.now() + LATER)  # as if the clock was set back since
    assert withdraw_link(link=link, by=None)
    link.refresh_from_db()
    assert link.withdrawn_at is not None
    assert link.withdrawn_at < link.made_at


def test_an_order_is_closed() -> None:
    item = make.StockItemFactory(supplier="Harrow Supplies")
    order = place_order(shop=item.shop, supplier="Harrow Supplies", quantities={item.pk: Decimal(2)}, by=None)
    PurchaseOrder.objects.update(ordered_at=timezone.now() + LATER)
    order.refresh_from_db()
    close_order(order=order, seen_version=order.version)
    order.refresh_from_db()
    assert order.closed_at is not None
    assert order.closed_at < order.ordered_at
