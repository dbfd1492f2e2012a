"""A unit's whole life across owners and bikes: services, findings, settings and what comes next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils import timezone

from diagnosis.layout_plans import CAUSE
from diagnosis.models import Cause, Tick
from workshop.intervals.models import ServiceDone
from workshop.intervals.standing import UnitStanding, standing_of
from workshop.intervals.trend import Trend, TrendPoint, trend_of
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.tickets.settings_record import LABELS, settings_in_words

_TREND = ("pressure_pa", "sag_m", "rest_travel_m", "rebound_clicks", "compression_clicks", "spacers")


@dataclass(frozen=True)
class FoundWrong:
    """What was found wrong, on which ticket."""

    ticket: Ticket
    on: dt.date
    title: str
    note: str


@dataclass(frozen=True)
class SettingsMoment:
    """The settings at one moment of a ticket, in the shop's words, in the order of `SettingsTrend.labels`."""

    ticket: Ticket
    on: dt.date
    moment: str
    values: Sequence[tuple[str, str]]
    """What each is called, and what was read."""


@dataclass(frozen=True)
class SettingsTrend:
    """Settings over the years, the newest first, and how the rest depth went, to be drawn."""

    labels: Sequence[str]
    moments: Sequence[SettingsMoment]
    rest: Trend | None


@dataclass(frozen=True)
class UnitLife:
    """What a unit has been through and what is next."""

    standing: UnitStanding
    services: Sequence[ServiceDone]
    findings: Sequence[FoundWrong]
    trend: SettingsTrend


def life_of(unit: SuspensionUnit, shop: Shop, today: dt.date | None = None) -> UnitLife:
    """The life of a unit, in a number of queries that does not grow with it."""
    tickets = list(
        Ticket.objects.filter(unit=unit)
        .order_by("number")
        .prefetch_related(
            "settings_records",
            "ticket_runs",
            Prefetch("ticket_runs__run__ticks", Tick.objects.select_related("step").order_by("pk")),
        )
    )
    return UnitLife(
        standing=standing_of(unit, today or timezone.localdate()),
        services=list(ServiceDone.objects.filter(unit=unit).select_related("ticket")),
        findings=_findings(tickets),
        trend=_trend(tickets, shop),
    )


def _findings(tickets: Sequence[Ticket]) -> list[FoundWrong]:
    """Each finding that still counts, the newest first; a cause once a ticket."""
    found: list[tuple[Ticket, Tick, str]] = []
    for ticket in tickets:
        latest: dict[tuple[int, str], Tick] = {}
        for link in ticket.ticket_runs.all():
            for tick in link.run.ticks.all():
                latest[link.run_id, tick.step.key] = tick
        for tick in latest.values():
            if tick.outcome == Tick.Outcome.FOUND:
                answer = tick.step.answers.get(Tick.Outcome.FOUND) or {}
                named = tick.finding in ("", CAUSE)  # what was by the way is told by its step
                found.append((ticket, tick, str(answer.get("cause") or "") if named else ""))
    causes = {cause.key: cause.title for cause in Cause.objects.filter(key__in={key for _, _, key in found})}
    rows: dict[tuple[int, str], FoundWrong] = {}
    for ticket, tick, key in found:
        title = causes.get(key, tick.step.title)
        on = timezone.localtime(tick.ticked_at).date()
        rows.setdefault((ticket.pk, title), FoundWrong(ticket, on, title, tick.note))
    return sorted(rows.values(), key=lambda row: (row.on, row.ticket.number), reverse=True)


def _trend(tickets: Sequence[Ticket], shop: Shop) -> SettingsTrend:
    records = [
        (ticket, record)
        for ticket in tickets
        for record in sorted(ticket.settings_records.all(), key=lambda one: (one.moment != "arrival", one.at))
    ]
    names = [name for name in _TREND if any(getattr(record, name) is not None for _, record in records)]
    moments = [
        SettingsMoment(
            ticket,
            timezone.localtime(record.at).date(),
            SettingsRecord.Moment(record.moment).label,
            [(LABELS[name], settings_in_words(name, getattr(record, name), shop)) for name in names],
        )
        for ticket, record in records
    ]
    points = [
        TrendPoint(
            timezone.localtime(record.at).date(),
            record.rest_travel_m * 1000,
            settings_in_words("rest_travel_m", record.rest_travel_m, shop),
            record.moment == SettingsRecord.Moment.HAND_BACK,
        )
        for _, record in records
        if record.rest_travel_m is not None
    ]
    what = f"{LABELS['rest_travel_m']}, {shop.unit_for('length')}"
    return SettingsTrend([LABELS[name] for name in names], moments[::-1], trend_of(points, what=what))
