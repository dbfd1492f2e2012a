"""Timers on every page of a tablet: whose they are, what a page costs, and stopping one without script."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Run, StepTimer
from tests.bench_runs import HTMX, url
from tests.factories import UserFactory
from workshop.models import Shop, Ticket, User

pytestmark = pytest.mark.django_db
STEP = "prove-pressure"
PAGES = ["counter:today", "bench:board", "stores:stock", "sums:index"]


def start(client: Client, ticket: Ticket, run: Run, step: str = STEP) -> StepTimer:
    client.post(url("start_timer", ticket, run.pk, step), {"client_id": str(uuid.uuid4())}, **HTMX)
    return StepTimer.objects.latest("pk")


def time_is_up(timer: StepTimer) -> None:
    StepTimer.objects.filter(pk=timer.pk).update(started_at=timezone.now() - timedelta(seconds=timer.seconds + 30))


def shown(page: str) -> list[bool]:
    """Whether each timer of the bar shows, from the top."""
    return ["hidden" not in tag for tag in re.findall(r'<div class="ringing__timer"[^>]*>', page)]


@pytest.mark.parametrize("name", PAGES)
def test_it_is_on_every_page_and_shows_once_its_time_is_up(bench: Client, ticket: Ticket, run: Run, name: str) -> None:
    assert shown(bench.get(reverse(name)).text) == []
    timer = start(bench, ticket, run)
    assert shown(bench.get(reverse(name)).text) == [False]
    time_is_up(timer)
    page = bench.get(reverse(name)).text
    assert shown(page) == [True]
    assert re.search(r'role="alert">Time is up: [^<]+, ticket \d+\.</p>', page)


def test_it_is_gone_from_every_page_when_it_is_stopped(bench: Client, ticket: Ticket, run: Run) -> None:
    timer = start(bench, ticket, run)
    for _ in range(2):
        bench.post(url("stop_timer", ticket, run.pk, STEP), {"timer": str(timer.client_id)})
        assert shown(bench.get(reverse("stores:stock")).text) == []
    start(bench, ticket, run)
    assert shown(bench.get(reverse("stores:stock")).text) == [False]


def test_without_script_stopping_it_leads_back_to_where_one_was(bench: Client, ticket: Ticket, run: Run) -> None:
    timer = start(bench, ticket, run)
    here = f"{reverse('stores:stock')}?q=seal"
    page = bench.get(here).text
    assert f'name="back" value="{here}"' in page
    answer = bench.post(url("stop_timer", ticket, run.pk, STEP), {"timer": str(timer.client_id), "back": here})
    assert (answer.status_code, answer.url) == (302, here)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "back", ["", "https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "stock/"]
)
def test_what_is_no_page_of_ours_leads_to_the_step(bench: Client, ticket: Ticket, run: Run, back: str) -> None:
    timer = start(bench, ticket, run)
    answer = bench.post(url("stop_timer", ticket, run.pk, STEP), {"timer": str(timer.client_id), "back": back})
    assert answer.url == url("step", ticket, run.pk, STEP)  # type: ignore[attr-defined]


def test_a_timer_of_another_mechanic_does_not_ring_on_mine(bench: Client, shop: Shop, ticket: Ticket, run: Run) -> None:
    """Not on another tablet, nor on the same one after somebody else signed in there, nor where both pressed Start."""
    time_is_up(start(bench, ticket, run))
    other = UserFactory(shop=shop, mechanic=True)
    theirs = Client()
    theirs.force_login(other)
    assert shown(theirs.get(reverse("bench:board")).text) == []
    start(theirs, ticket, run)  # it runs already, so it is not begun again
    assert StepTimer.objects.count() == 1
    assert shown(theirs.get(reverse("stores:stock")).text) == []
    bench.force_login(other)
    assert shown(bench.get(reverse("stores:stock")).text) == []
    assert bench.get(reverse("bench:timers")).text.count("data-ring=") == 0


def test_it_rings_on_a_second_tablet_once_its_mechanic_opens_the_bench_there(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    start(bench, ticket, run)
    second = Client()
    second.force_login(mechanic)
    assert shown(second.get(reverse("stores:stock")).text) == []
    second.get(reverse("bench:board"))
    assert shown(second.get(reverse("stores:stock")).text) == [False]


def test_a_page_costs_one_query_with_timers_and_none_without(bench: Client, ticket: Ticket, run: Run) -> None:
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as made:
            bench.get(reverse("sums:index"))
        return len(made)

    queries()  # what is looked up once in a process
    without = queries()
    start(bench, ticket, run)
    assert queries() == without + 1
    for step in ("foam-rings", "pressure-and-cycle"):
        if ticket and run.checklist.steps.get(key=step).timer:
            start(bench, ticket, run, step)
    assert StepTimer.objects.count() > 1
    assert queries() == without + 1
    assert bench.get(reverse("sums:index"), **HTMX).text.count("data-ring=") == 0


@pytest.mark.parametrize("kept", ["", "x", "1 2 3", "'; --", f"{uuid.uuid4()} " * 500])
def test_a_cookie_that_holds_anything_else_does_no_harm(bench: Client, ticket: Ticket, run: Run, kept: str) -> None:
    bench.cookies["timers"] = kept
    assert shown(bench.get(reverse("stores:stock")).text) == []
    start(bench, ticket, run)
    assert shown(bench.get(reverse("stores:stock")).text) == [False]
    assert len(bench.cookies["timers"].value.split()) <= 20
    assert bench.cookies["timers"]["httponly"]
