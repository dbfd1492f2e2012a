"""Units that are due, for the tests of reminders, the customer's page and privacy."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from specs.units import to_si
from tests.factories import CustomerFactory, SpecValueFactory, SuspensionUnitFactory
from workshop.intervals.models import ServiceDone
from workshop.models import Message, Shop, SuspensionUnit
from workshop.reminders.due import DueList, DueRow, due_row, due_rows
from workshop.reminders.kept_list import kept_units
from workshop.reminders.queueing import queue_reminder

STOP_URL = "https://mill-yard.example/c/stop/token/"


def due_unit(shop: Shop, *, months_ago: int = 8, agreed: bool = True, **customer: Any) -> SuspensionUnit:
    """A fork whose lowers service is due every six months and was done so many months ago."""
    owner = CustomerFactory.create(shop=shop, agreed_to_reminders=agreed, **customer)
    unit: SuspensionUnit = SuspensionUnitFactory.create(shop=shop, customer=owner)
    SpecValueFactory.create(
        model=unit.model,
        quantity="lowers_interval_months",
        magnitude_si=to_si(6, "time", "months"),
        typed="6 months",
    )
    day = timezone.localdate() - dt.timedelta(days=round(months_ago * 30.5))
    ServiceDone.objects.create(unit=unit, level="lowers", on=day, told_by="test", at=timezone.now())
    return unit


def due_list(shop: Shop, today: dt.date) -> DueList:
    """The whole list of a shop, by what is kept of it."""
    return due_rows(shop, list(kept_units(shop, today).filter(place__lt=4).values_list("unit", flat=True)), today)


def row_of(unit: SuspensionUnit) -> DueRow:
    row = due_row(unit.shop, unit.pk, timezone.localdate())
    assert row is not None
    return row


def queued(unit: SuspensionUnit, channel: str = "email", **changes: Any) -> Message:
    words = {"subject": "Due", "body": "Hello", "stop_url": STOP_URL, **changes}
    return queue_reminder(row=row_of(unit), channel=channel, by=None, **words)
