"""What a tablet walks in the browser, sent without one: a complaint from its first step to ready and the report.

The pages and their scripts are walked in tests/browser/test_every_complaint.py, for a fork, a shock and services; here
the mechanic opens the step that the bench suggests and answers what its form asks for.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.forms import ChoiceField
from django.test import Client

from diagnosis.layout_plans import CAUSE
from diagnosis.models import Run, Step
from diagnosis.runs_rules import causes_of
from tests.bench_runs import url
from tests.browser.reading_steps import hours_go_by
from tests.browser.test_every_complaint import (
    IN_THE_BROWSER,
    MOST_STEPS,
    NOT_USED,
    ON_A_COIL,
    ON_ARRIVAL,
    OPTIONAL,
    READ,
    SHORT,
    Walk,
    assert_worked,
    booked_in,
)  # fmt: skip
from tests.factories import UserFactory
from tests.squeezed import squeezed
from workshop.bench.step_form import TickForm
from workshop.demo.specs_data import load_demo_specs
from workshop.models import Ticket
from workshop.torque.models import TorqueTool
from workshop.work.sent import READING_PREFIX, REASON_PREFIX, TOOL_PREFIX
from workshop.work.unresolved import unresolved_lines

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]  # the walks of IN_THE_BROWSER are made on both
WELL = {Step.Kind.WORK: "done", Step.Kind.CHECK: "ruled_out", Step.Kind.PROOF: "proved"}


@pytest.mark.parametrize(
    "walk", [walk for walk in SHORT if walk.checklist not in IN_THE_BROWSER], ids=lambda walk: walk.checklist
)
def test_a_complaint_is_worked_from_the_bench_to_ready(client: Client, walk: Walk) -> None:
    mechanic = UserFactory(mechanic=True)
    load_demo_specs(entered_by=mechanic, checked_by=UserFactory(shop=mechanic.shop, owner=True))
    ticket = booked_in(walk, mechanic)
    client.force_login(mechanic)
    client.post(url("take", ticket), {"version": ticket.version})
    client.post(url("start", ticket, walk.checklist))
    run = Run.objects.get()
    steps = {step.key: step for step in run.checklist.steps.all()}
    arriving = dict(ON_ARRIVAL.get(walk.checklist, {}))
    typed = READ | ON_A_COIL.get(walk.model, {})
    for _ in range(MOST_STEPS):
        page = client.get(url("run", ticket, run.pk), follow=True)
        if page.redirect_chain[-1][0] == url("ticket", ticket):
            break
        key = page.redirect_chain[-1][0].rstrip("/").rsplit("/", 1)[1]
        form: TickForm = page.context["form"]
        _answer(client, ticket, steps[key], walk, form, readings(form, lambda key: arriving.pop(key, typed.get(key))))
    else:
        raise AssertionError(f"{walk.checklist} does not end")
    _finish(client, ticket)
    assert_worked(ticket, walk)


def readings(form: TickForm, typed: Callable[[str], str | None]) -> dict[str, str]:
    """As shown where the page offers it, else what is typed of it; what need not be taken is left where nothing is."""
    sent: dict[str, str] = {}
    for plan in form.plans:
        name = READING_PREFIX + plan["key"]
        field: Any = form.fields[name]
        if plan["key"] in OPTIONAL or isinstance(field, ChoiceField):
            continue
        words = getattr(field, "as_shown_number", "") or typed(plan["key"])
        assert words or not plan.get("required"), plan["key"]
        sent |= {name: words} if words else {}
    return sent


def _answer(client: Client, ticket: Ticket, step: Step, walk: Walk, form: TickForm, read: dict[str, str]) -> None:
    """With its readings, a tool for each bolt and the wait kept; where it is asked why, with a reason."""
    run = Run.objects.get()
    if step.timer:
        client.post(url("start_timer", ticket, run.pk, step.key), {"client_id": str(uuid.uuid4())})
        hours_go_by()
    outcome = WELL[Step.Kind(step.kind)]
    if step.key == walk.found_at:
        outcome = f"found:{walk.cause}:{CAUSE}" if len(causes_of(step)) > 1 else "found"
    sent = {"client_id": str(uuid.uuid4()), "note": "", "outcome": outcome}
    sent |= {"version": str(run.version)} | read
    tool = str(TorqueTool.objects.get().pk)
    sent |= {name: tool for name in form.fields if name.startswith(TOOL_PREFIX)}
    answer = client.post(url("answer", ticket, run.pk, step.key), sent)
    if answer.status_code == 422:
        reasons = {name: "Measured twice" for name in form.fields if name.startswith(REASON_PREFIX)}
        answer = client.post(url("answer", ticket, run.pk, step.key), sent | reasons)
    assert answer.status_code == 302, f"{step.key}: {squeezed(answer.text)}"


def _finish(client: Client, ticket: Ticket) -> None:
    """Ready asks first what became of each part that the finding and the steps brought."""
    asked = unresolved_lines(ticket)
    sent = {"version": str(Ticket.objects.get(pk=ticket.pk).version), "reason": ""}
    if asked:
        assert client.post(url("finish", ticket), sent).status_code == 422
        sent |= {"parts_asked": "1"}
        sent |= {f"became-{line.pk}": "not_used" if line.title in NOT_USED else "used" for line in asked}
        sent |= {f"quantity-{line.pk}": "1" for line in asked}
    answer = client.post(url("finish", ticket), sent)
    assert answer.status_code == 302, squeezed(answer.text)
