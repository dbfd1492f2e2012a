"""At 1,000 tickets: every page against a bare view of fifty rows, asked of a worker as it serves them, and the tick.

The tick is held against a bare one-row write of the same person.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.template import Template
from django.test.utils import _TestState
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Checklist, Run
from diagnosis.runs import start_run
from tests.benchmarks.databases import as_served
from tests.benchmarks.floor import Browser, ratio
from tests.benchmarks.shop_process import FLOOR, ShopProcess, in_turn
from tests.demo_ticket import sucked_down_ticket
from tests.factories import SuspensionUnitFactory, TicketFactory
from tests.known import known
from workshop.demo.making import make_demo
from workshop.staff.models import User
from workshop.tickets.models import Ticket, TicketRun

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db(transaction=True)]
RUNS = 25
TICKS = 100
TICKETS = 1_000


@pytest.fixture(autouse=True)
def _templates_as_served(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the recording of every template that the test runner puts in."""
    monkeypatch.setattr(Template, "_render", vars(_TestState)["saved_data"].template_render)


@pytest.fixture
def owner() -> User:
    """The owner of the demo shop, grown to a thousand tickets."""
    make_demo()
    owner = User.objects.select_related("shop").get(username="owner")
    model = known(known(owner.shop).units.exclude(model=None).first()).model
    unit = SuspensionUnitFactory(
        shop=owner.shop, customer=known(owner.shop).customers.first(), model=model, travel_m=0.16
    )
    made = known(owner.shop).last_ticket_number
    Ticket.objects.bulk_create(
        TicketFactory.build(
            shop=owner.shop, customer=unit.customer, unit=unit, number=made + number, state="handed_back"
        )
        for number in range(1, TICKETS - made + 1)
    )
    return owner


def pages(number: int) -> list[tuple[str, str, dict[str, Any]]]:
    """Name, route and what its address needs."""
    plain = [
        "counter:today", "counter:tickets", "counter:customers", "counter:book_in", "bench:board", "stores:stock",
        "office:overview", "office:specs", "office:specs_unchecked", "office:staff", "office:shop_settings",
        "sums:index",
    ]  # fmt: skip
    return [(name, name, {}) for name in plain] + [
        ("counter:ticket", "counter:ticket", {"number": number}),
        ("bench:ticket", "bench:ticket", {"number": number}),
        ("bench:parts", "bench:parts", {"number": number}),
        ("bench:parts_and_charges", "bench:parts_and_charges", {"number": number}),
    ]


def test_pages_against_the_floor(owner: User, ratios: Callable[[str, float], None]) -> None:
    ticket = sucked_down_ticket()
    addresses = {name: reverse(route, kwargs=needs) for name, route, needs in pages(ticket.number)}
    run = Run.objects.get(pk=ticket.ticket_runs.get().run_id)
    addresses["bench:step"] = reverse("bench:step", args=[ticket.number, run.pk, "inspect-wipers"])
    addresses["counter:outlook"] = reverse("counter:outlook")
    addresses["counter:logbook"] = reverse("counter:logbook", args=[ticket.number])
    addresses["counter:search"] = reverse("counter:search") + "?q=wren"
    model = known(known(known(owner.shop).units.exclude(model=None).first()).model)
    addresses["office:specs_model"] = reverse("office:specs_model", args=[model.pk])
    shop = ShopProcess(as_served())
    for name, address in addresses.items():
        measured = in_turn(lambda at=address: shop.seconds(at), lambda: shop.seconds(FLOOR), RUNS)  # type: ignore[misc]
        ratios(f"{name} / bare view of fifty rows", measured)
    shop.close()


def test_tick_against_a_bare_write(owner: User, ratios: Callable[[str, float], None]) -> None:
    mechanic = User.objects.get(username="mechanic")
    browser, floor = Browser(mechanic), Browser(mechanic, at_floor=True)
    ticket = sucked_down_ticket()
    # A checklist is read anew while it is young, as it never is when a shop ticks it.
    Checklist.objects.update(made_at=timezone.now() - dt.timedelta(days=1))
    checklist = Checklist.objects.get(key="sits-low", is_current=True)
    runs = [start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic) for _ in range(TICKS + 1)]
    for run in runs:
        TicketRun.objects.create(ticket=ticket, run=run)
    waiting = iter(runs)

    def tick() -> None:
        run = next(waiting)
        sent = {
            "outcome": "done",
            "version": 1,
            "client_id": str(uuid.uuid4()),
            "note": "",
            "reading-rest_travel": "70 mm",
        }
        response = browser.post(
            reverse("bench:answer", args=[ticket.number, run.pk, "record-arrival"]), sent, htmx=True
        )
        assert response.status_code == 200

    def write() -> None:
        sent = {"outcome": "done", "version": 1, "client_id": str(uuid.uuid4()), "note": "", "reading": "70 mm"}
        floor.post(f"/write/?ticket={ticket.pk}", sent, htmx=True)

    measured = ratio(tick, write, runs=TICKS)

    ratios("bench tick / one-row write of the same person", measured)
    assert all(run.ticks.count() == 1 for run in runs)


def test_the_springs_answer_against_the_same_page_without_it(
    owner: User, ratios: Callable[[str, float], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Computing, words and drawing together, in the step that shows all of it."""
    browser = Browser(owner)
    ticket = sucked_down_ticket()
    run = ticket.ticket_runs.get().run_id
    address = reverse("bench:step", args=[ticket.number, run, "free-port-at-maximum"])

    def without() -> None:
        with monkeypatch.context() as patch:
            patch.setattr("workshop.bench.step_page.spring_shown", lambda *_, **__: None)
            browser.get(address)

    measured = ratio(lambda: browser.get(address), without, runs=RUNS)

    ratios("step with the spring's answer / without", measured)
    assert b"Pressure alone will not free it" in browser.get(address).content  # type: ignore[attr-defined]
