"""The lists without a walk in the browser, each walked once through the screens, from its first step to ready.

The mechanic opens the step that the bench suggests and answers what is on it; nothing is read past the pages. The lists
that the tablet walks are in tests/browser/test_every_complaint.py, and together they are all that are shipped.
"""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass

import pytest
from django.db.models import F
from django.test import Client
from django.urls import reverse

from diagnosis.layout_plans import CAUSE
from diagnosis.models import Cause, Run, Step, StepTimer, Tick
from diagnosis.runs_rules import causes_of
from specs.models import SuspensionModel
from tests.any_reading import any_reading
from tests.bench_runs import url
from tests.browser.test_every_complaint import SHORT
from tests.factories import TicketFactory, TorqueToolFactory, UserFactory
from tests.shipped import shipped_checklist, shipped_folder
from tests.squeezed import squeezed
from workshop.bench.step_form import TickForm
from workshop.demo.specs_data import load_demo_specs
from workshop.documents.customer_report import gather_customer_report
from workshop.models import Ticket, User
from workshop.torque.models import TorqueTool
from workshop.work.sent import READING_PREFIX, REASON_PREFIX, TOOL_PREFIX
from workshop.work.unresolved import unresolved_lines

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Walk:
    """A list, the demo's model it is worked on, and the check that finds, with its cause; none in a routine service."""

    key: str
    model: str
    travel_mm: int
    found_at: str = ""
    cause: str = ""


WALKS = [
    Walk("after-a-crash", "Culvert", 160, "crash-bars"),
    Walk("bottoms-out", "Moraine", 170, "spacers-for-the-end", "too-few-spacers"),
    Walk("lockout-fails", "Whimbrel", 120, "remote-lever", "remote-worn"),
    Walk("steering-creaks", "Scarp", 200, "check-headset", "headset-dry"),
    Walk("damper-service", "Curlew", 120),
    Walk("full-service", "Plume", 130),
    Walk("shock-knocks", "Sluice", 60, "shock-inspect-bushings", "eye-bushing-worn"),
    Walk("shock-leaks-oil", "Cairn", 60, "shock-damper-wet", "shock-oil-lost"),
    Walk("shock-harsh", "Sluice", 60, "shock-count-spacers", "shock-spacers-wrong"),
    Walk("shock-coil-noise", "Weir", 65, "shock-coil-seats", "coil-cracked"),
    Walk("shock-full-service", "Ferry", 50),
    Walk("shock-hardware-service", "Ballast", 65),
]
# A fork, a shock and a service stand for the others on another database: they ask it for the same in other words.
EACH_DATABASE = {"bottoms-out", "shock-coil-noise", "full-service"}
FITS = {"rest_travel": "1 mm"}  # what a coil, too, can rest at
MOST_STEPS = 80
WELL = {Step.Kind.WORK: "done", Step.Kind.CHECK: "ruled_out", Step.Kind.PROOF: "proved"}


def test_each_shipped_list_is_walked_on_the_tablet_or_here() -> None:
    walked = [walk.checklist for walk in SHORT] + [walk.key for walk in WALKS]
    assert sorted(walked) == sorted(plan.key for plan in shipped_folder().checklists)


@pytest.mark.parametrize(
    "walk",
    [pytest.param(walk, marks=() if walk.key in EACH_DATABASE else pytest.mark.any_database) for walk in WALKS],
    ids=lambda walk: walk.key,
)
def test_a_list_is_walked_from_its_first_step_to_ready(client: Client, walk: Walk) -> None:
    mechanic = UserFactory(mechanic=True)
    ticket = _booked_in(walk, mechanic)
    client.force_login(mechanic)
    client.post(url("take", ticket), {"version": ticket.version})
    client.post(url("start", ticket, walk.key))
    run = Run.objects.get()

    steps = {step.key: step for step in run.checklist.steps.all()}
    opened = _walk(client, ticket, run, walk, steps)

    assert len(opened) == len(set(opened)), "what is answered well is asked for once"
    assert walk.found_at in [*opened, ""]
    _finish(client, ticket)
    ticket.refresh_from_db()
    assert ticket.state == Ticket.State.READY
    assert Run.objects.get().ended_at is not None
    report = gather_customer_report(ticket, "")
    assert report["proof"]
    found = [cause["title"] for search in report["searches"] for cause in search["found"]]
    assert found == ([Cause.objects.get(key=walk.cause).title] if walk.cause else [])


def _booked_in(walk: Walk, mechanic: User) -> Ticket:
    load_demo_specs(entered_by=mechanic, checked_by=UserFactory(shop=mechanic.shop, owner=True))
    checklist = shipped_checklist(walk.key)
    model = SuspensionModel.objects.get(name=walk.model)
    ticket: Ticket = TicketFactory(
        shop=mechanic.shop, unit__model=model, unit__kind=model.kind, unit__travel_m=walk.travel_mm / 1000
    )
    ticket.complaints.add(checklist.complaint)
    TorqueToolFactory(shop=mechanic.shop, low_nm=2.0, high_nm=20.0)
    return ticket


def _walk(client: Client, ticket: Ticket, run: Run, walk: Walk, steps: dict[str, Step]) -> list[str]:
    """Answer each step that the bench suggests until it leads back to the ticket; their keys in order."""
    opened: list[str] = []
    for _ in range(MOST_STEPS):
        page = client.get(url("run", ticket, run.pk), follow=True)
        assert page.status_code == 200
        if page.redirect_chain[-1][0] == url("ticket", ticket):
            return opened
        key = page.redirect_chain[-1][0].rstrip("/").rsplit("/", 1)[1]
        opened.append(key)
        _answer(client, ticket, run, steps[key], walk, page.context["form"])
    raise AssertionError(f"{walk.key} does not end: {opened[-10:]}")


def _answer(client: Client, ticket: Ticket, run: Run, step: Step, walk: Walk, form: TickForm) -> None:
    """Every reading, the tool for each bolt, the wait kept; what is outside is said why when it is asked."""
    if step.timer:
        started = {"client_id": str(uuid.uuid4())}
        client.post(url("start_timer", ticket, run.pk, step.key), started)
        _hours_go_by()
    finds = step.key == walk.found_at
    sent = {"client_id": str(uuid.uuid4()), "note": "", "outcome": "found" if finds else WELL[Step.Kind(step.kind)]}
    sent["version"] = str(Run.objects.get(pk=run.pk).version)
    if finds and len(causes_of(step)) > 1:
        sent["outcome"] = f"found:{walk.cause}:{CAUSE}"
    asked = {row.key for row in form.rows}  # what something usual is taken for stands folded
    for plan in (plan for plan in form.plans if plan["key"] in asked):
        field = form.fields[READING_PREFIX + plan["key"]]
        typed = FITS.get(plan["key"]) or getattr(field, "as_shown_number", "") or any_reading(plan)
        sent[READING_PREFIX + plan["key"]] = typed
    tool = str(TorqueTool.objects.get().pk)
    sent |= {name: tool for name in form.fields if name.startswith(TOOL_PREFIX)}
    address = url("answer", ticket, run.pk, step.key)
    answer = client.post(address, sent)
    if answer.status_code == 422:
        reasons = {name: "Measured twice" for name in form.fields if name.startswith(REASON_PREFIX)}
        answer = client.post(address, sent | reasons)
    assert answer.status_code == 302, f"{step.key}: {squeezed(answer.content.decode())}"
    assert Tick.objects.filter(run=run, step=step).exists()


def _hours_go_by() -> None:
    by = dt.timedelta(hours=5)
    StepTimer.objects.update(started_at=F("started_at") - by, stopped_at=F("stopped_at") - by)
    Tick.objects.update(ticked_at=F("ticked_at") - by)
    Run.objects.update(started_at=F("started_at") - by)


def _finish(client: Client, ticket: Ticket) -> None:
    page = client.post(url("finish", ticket), {"version": Ticket.objects.get(pk=ticket.pk).version, "reason": ""})
    asked = unresolved_lines(ticket)
    if asked:
        parts = {f"became-{line.pk}": "used" for line in asked} | {f"quantity-{line.pk}": "1" for line in asked}
        sent = {"version": Ticket.objects.get(pk=ticket.pk).version, "reason": "", "parts_asked": "1"}
        page = client.post(url("finish", ticket), sent | parts)
    assert page.status_code == 302, squeezed(page.content.decode())
    assert page["Location"] == reverse("bench:board")
