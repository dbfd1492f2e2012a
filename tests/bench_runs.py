"""What the tests of the Bench send, and how they get a run to where they need it."""

from __future__ import annotations

import uuid
from typing import Any

from django.urls import reverse

from diagnosis.layout_plans import BOLTS
from diagnosis.models import Run
from diagnosis.runs import TypedReadings, tick
from tests.factories import BoltRecordFactory, TorqueToolFactory
from workshop.models import Ticket, User

HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}
ARRIVED = {
    "record-arrival": {"rest_travel": "28 mm"},
    "arrival-pressure": {"pump_pressure": "80 psi"},
    "record-clicks": {"rebound_clicks": "7"},
}


def answered(run: Run, step_key: str, outcome: str, typed: dict[str, str] | None = None) -> None:
    fresh = Run.objects.get(pk=run.pk)
    tick(
        run=fresh, step_key=step_key, outcome=outcome, by=None, seen_version=fresh.version, client_id=uuid.uuid4(),
        readings=TypedReadings(typed or {}),
    )  # fmt: skip


def arrived(run: Run) -> None:
    for step_key, typed in ARRIVED.items():
        answered(run, step_key, "done", typed)


def url(name: str, ticket: Ticket, *more: Any) -> str:
    return reverse(f"bench:{name}", args=[ticket.number, *more])


def form_of(run: Run, outcome: str, **fields: str) -> dict[str, str]:
    version = Run.objects.get(pk=run.pk).version
    return {"version": str(version), "client_id": str(uuid.uuid4()), "outcome": outcome, "note": ""} | fields


def bolts_recorded(ticket: Ticket, by: User) -> None:
    """Every critical bolt on record, with a tool of the shop."""
    tool = TorqueToolFactory(shop=ticket.shop)
    for bolt in BOLTS:
        BoltRecordFactory(ticket=ticket, bolt=bolt, by=by, tool=tool)
