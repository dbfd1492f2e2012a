"""Lives of parts out of the shop's records, in a number of queries that does not grow with it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping

from django.db.models import Max
from django.utils import timezone

from diagnosis.learning import ClosedTick, cause_found
from diagnosis.models import Tick
from workshop.bench.learned import ticks_of
from workshop.intervals.models import ServiceDone
from workshop.intervals.ridden import RideHistory
from workshop.intervals.standing import histories_of
from workshop.office.figures.components import (
    CAUSES_THAT_END_A_LIFE,
    COMPONENTS,
    ROLES_THAT_BEGIN_A_LIFE,
    Component,
)
from workshop.office.figures.life_sections import life_figure
from workshop.office.figures.lives import FoundBad, Lives, PartHistory, Renewal, lives_of
from workshop.office.figures.sheet import Figure
from workshop.staff.models import Shop
from workshop.tickets.models import PartLine, StateMove, Ticket, TicketRun

_ByUnit = Mapping[int, list[tuple[str, Renewal]]]


def service_life(shop: Shop, today: dt.date) -> Figure:
    """How long parts last in this shop's hands."""
    return life_figure(lives_by_component(shop, today))


def lives_by_component(shop: Shop, today: dt.date) -> dict[str, Lives]:
    """The lives of each component, by its key."""
    renewed = _renewals(shop)
    found = _findings(shop)
    units = sorted(renewed)
    riding = histories_of(units)
    heard_of = _last_heard_of(shop, riding)
    return {
        component.key: lives_of(
            (
                PartHistory(
                    [renewal for mark, renewal in renewed[unit] if _renews(component, mark)],
                    [finding for cause, finding in found.get(unit, ()) if cause in component.found_bad],
                    riding[unit],
                    heard_of[unit],
                )
                for unit in units
            ),
            today,
        )
        for component in COMPONENTS
    }


def _renews(component: Component, mark: str) -> bool:
    return mark in component.renewed_by_parts or mark in component.renewed_by_levels


def _renewals(shop: Shop) -> _ByUnit:
    """Parts used and services done, by unit, each marked with the role or the level; two queries."""
    found: dict[int, list[tuple[str, Renewal]]] = defaultdict(list)
    used = StateMove.objects.filter(
        ticket__shop=shop,
        to_state=Ticket.State.HANDED_BACK,
        ticket__part_lines__status=PartLine.Status.USED,
        ticket__part_lines__part__role__in=ROLES_THAT_BEGIN_A_LIFE,
    )
    for unit, ticket, booked_at, at, role in used.values_list(
        "ticket__unit", "ticket", "ticket__booked_at", "at", "ticket__part_lines__part__role"
    ).distinct():
        renewal = Renewal(timezone.localtime(at).date(), timezone.localtime(booked_at).date(), ticket)
        found[unit].append((role, renewal))
    for unit, level, on, ticket, booked_at in ServiceDone.objects.filter(unit__shop=shop).values_list(
        "unit", "level", "on", "ticket", "ticket__booked_at"
    ):
        came_in = timezone.localtime(booked_at).date() if booked_at else on
        found[unit].append((level, Renewal(on, came_in, ticket)))
    return {unit: _one_a_ticket(renewals) for unit, renewals in found.items()}


def _one_a_ticket(renewals: list[tuple[str, Renewal]]) -> list[tuple[str, Renewal]]:
    """Of a role or level told twice on one ticket, the last."""
    kept = {(mark, renewal.ticket or renewal.on): (mark, renewal) for mark, renewal in renewals}
    return list(kept.values())


def _findings(shop: Shop) -> Mapping[int, list[tuple[str, FoundBad]]]:
    """Findings that hold and end a life, by unit; three queries, of the tickets that have such a finding."""
    told = Tick.objects.filter(outcome=Tick.Outcome.FOUND, cause__key__in=CAUSES_THAT_END_A_LIFE)
    tickets = TicketRun.objects.filter(ticket__shop=shop, run__in=told.order_by().values("run")).order_by()
    ticks, _ = ticks_of(tickets.values("ticket"))
    by_complaint: dict[tuple[int, int], list[ClosedTick]] = defaultdict(list)
    for tick in ticks:
        by_complaint[tick.visit, tick.complaint].append(tick)
    causes = {place: cause_found(entries) for place, entries in by_complaint.items()}
    came_in = {
        pk: (unit, timezone.localtime(booked_at).date())
        for pk, unit, booked_at in Ticket.objects.filter(pk__in=tickets.values("ticket")).values_list(
            "pk", "unit", "booked_at"
        )
    }
    found: dict[int, list[tuple[str, FoundBad]]] = defaultdict(list)
    for (ticket, _), cause in causes.items():
        if cause in CAUSES_THAT_END_A_LIFE:
            unit, day = came_in[ticket]
            found[unit].append((cause, FoundBad(day, ticket)))
    return found


def _last_heard_of(shop: Shop, riding: Mapping[int, RideHistory]) -> dict[int, dt.date]:
    """The last day on which a unit was here or something was told of its riding; one query."""
    seen = dict(Ticket.objects.of_shop(shop).order_by().values_list("unit").annotate(last=Max("state_since")))
    heard = {}
    for unit, history in riding.items():
        days = [history.weekly[-1].since] if history.weekly else []
        days += [history.rides[-1].day] if history.rides else []
        days += [history.counter[-1].on] if history.counter else []
        days += [timezone.localtime(seen[unit]).date()] if unit in seen else []
        heard[unit] = max(days, default=dt.date.min)
    return heard
