"""Safety-critical bolts are recorded with the answer of the step that tightens them: torque, tool and who."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Run
from diagnosis.runs import start_run
from specs.models import SpecValue
from tests.factories import ShopFactory, StepFactory, TicketRunFactory
from tests.sucked_down import sucked_down_ticket
from workshop.staff.models import User
from workshop.tickets.models import Ticket
from workshop.torque.models import BoltRecord, TorqueTool
from workshop.torque.tools import register_tool

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket() -> Ticket:
    """The sucked-down fork with a second run whose only step tightens the foot fasteners."""
    ticket = sucked_down_ticket()
    step = StepFactory(
        key="feet", kind="work", position=0, bolts=["foot_air_leg"], answers={"done": {"says": "Both feet hold."}},
        ends_search={}, readings=[{"key": "used", "measures": "foot_torque_air_leg", "label": "Torque used, air leg",
        "quantity": "torque", "unit": "N·m", "required": True, "low": "0 N·m", "high": "40 N·m", "help": ""}],
    )  # fmt: skip
    run = start_run(checklist=step.checklist, facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    return ticket


@pytest.fixture
def tool(ticket: Ticket) -> TorqueTool:
    today = timezone.localdate()
    return register_tool(
        shop=ticket.shop, number="TW-1", name="Small wrench", low_nm=2.0, high_nm=15.0,
        tool_class=TorqueTool.ToolClass.SETTING, calibrated_on=today, calibrated_until=today + dt.timedelta(days=365),
    )  # fmt: skip


def answer(client: Client, ticket: Ticket, typed: str, **changed: Any) -> Any:
    client.force_login(User.objects.get(username="mechanic"))
    run = Run.objects.get(checklist__steps__key="feet")
    sent = {"outcome": "done", "version": run.version, "client_id": str(uuid.uuid4()), "note": ""}
    sent |= {"reading-used": typed} | changed
    return client.post(reverse("bench:answer", args=[ticket.number, run.pk, "feet"]), sent)


def test_the_answer_records_torque_tool_and_who(client: Client, ticket: Ticket, tool: TorqueTool) -> None:
    response = answer(client, ticket, "8 N·m", **{"tool-foot_air_leg": str(tool.pk)})

    record = BoltRecord.objects.get()
    assert response.status_code == 302
    assert (record.bolt, record.torque_nm, record.tool, record.by.username) == ("foot_air_leg", 8.0, tool, "mechanic")
    assert record.marks == []


def test_without_a_tool_the_record_is_marked(client: Client, ticket: Ticket) -> None:
    answer(client, ticket, "8 N·m")

    assert BoltRecord.objects.get().marks == ["No tool is named."]


def test_a_slip_is_refused_beside_the_reading_and_nothing_is_saved(client: Client, ticket: Ticket) -> None:
    wanted = SpecValue.objects.get(model=ticket.unit.model, quantity="foot_torque_air_leg").typed

    response = answer(client, ticket, "38 N·m")

    text = response.content.decode()
    assert response.status_code == 422
    assert f"38 N·m is far from the {wanted} on record." in text
    assert 'value="38"' in text  # its unit stands beside the field
    assert not BoltRecord.objects.exists()
    assert not Run.objects.get(checklist__steps__key="feet").ticks.exists()


def test_the_same_answer_sent_twice_records_once(client: Client, ticket: Ticket) -> None:
    same = {"client_id": str(uuid.uuid4()), "version": 1}

    for _ in range(2):
        answer(client, ticket, "8 N·m", **same)

    assert BoltRecord.objects.count() == 1


def test_left_out_records_nothing(client: Client, ticket: Ticket) -> None:
    answer(client, ticket, "8 N·m", outcome="left_out")

    assert not BoltRecord.objects.exists()


def test_another_shops_tool_is_not_taken(client: Client, ticket: Ticket, tool: TorqueTool) -> None:
    TorqueTool.objects.update(shop=ShopFactory())

    response = answer(client, ticket, "8 N·m", **{"tool-foot_air_leg": str(tool.pk)})

    assert response.status_code == 422
    assert not BoltRecord.objects.exists()
