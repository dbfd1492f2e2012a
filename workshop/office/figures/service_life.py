"""Lives of parts out of the shop's records, in a number of queries that does not grow with it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from django.db.models import Exists, Max, OuterRef
from django.utils import timezone

from diagnosis.models import Step, Tick
from workshop.intervals.models import ServiceDone
from workshop.intervals.ridden import RideHistory
from workshop.intervals.standing import histories_of
from workshop.office.figures.components import COMPONENTS, ROLES_THAT_BEGIN_A_LIFE, Component
from workshop.office.figures.life_sections import life_figure
from workshop.office.figures.lives import HEARD_OF_LASTS, Lives, PartHistory, Renewal, lives_of
from workshop.office.figures.period import Period
from workshop.office.figures.sheet import Figure
from workshop.office.figures.worn import seen_of
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import PartLine, StateMove, Ticket
from workshop.tickets.whose import of_the_shop
from workshop.web.days import start_of

# What a renewal is marked with: the role of a part put in, the level of a service, the part that a step makes new.
_ROLE, _LEVEL, _STEP = "role", "level", "step"
_Marked = tuple[tuple[str, str], Renewal]
_ByUnit = Mapping[int, list[_Marked]]


def service_life(shop: Shop, period: Period, today: dt.date) -> Figure:
    """How long parts last in this shop's hands that were made new in the period."""
    return life_figure(lives_by_component(shop, period, today))


def lives_by_component(shop: Shop, period: Period, today: dt.date) -> dict[str, Lives]:
    """The lives that began in the period, of each component by its key; they may end after it."""
    renewed = _renewals(shop, period.first)
    units = sorted(unit for unit, marked in renewed.items() if any(one.on in period for _, one in marked))
    seen = seen_of(shop, units, period.first)
    riding = histories_of(units)
    heard_of = _last_heard_of(riding, period.first)
    return {
        component.key: lives_of(
            (
                PartHistory(
                    _one_a_ticket(renewal for mark, renewal in renewed[unit] if _renews(component, mark)),
                    seen[unit].bad[component.key],
                    riding[unit],
                    heard_of[unit],
                    seen[unit].good[component.key],
                    unit,
                )
                for unit in units
            ),
            today,
            begun_by=period.last,
        )
        for component in COMPONENTS
    }


def _renews(component: Component, mark: tuple[str, str]) -> bool:
    kind, name = mark
    by = {_ROLE: component.renewed_by_parts, _LEVEL: component.renewed_by_levels, _STEP: (component.key,)}
    return name in by[kind]


def _renewals(shop: Shop, since: dt.date) -> _ByUnit:
    """Parts used, services done and parts made new by a step from a day on, by unit, each marked; four queries."""
    found: dict[int, list[_Marked]] = defaultdict(list)
    for unit, part, renewal in _made_new_by_steps(shop, since):
        found[unit].append(((_STEP, part), renewal))
    used = StateMove.objects.filter(of_the_shop(shop), at__gte=start_of(since), to_state=Ticket.State.HANDED_BACK)
    for unit, ticket, booked_at, at, status, role in used.order_by().values_list(
        "ticket__unit", "ticket", "ticket__booked_at", "at", "ticket__part_lines__status",
        "ticket__part_lines__part__role",
    ):  # fmt: skip
        if status == PartLine.Status.USED and role in ROLES_THAT_BEGIN_A_LIFE:
            renewal = Renewal(timezone.localtime(at).date(), timezone.localtime(booked_at).date(), ticket)
            found[unit].append(((_ROLE, role), renewal))
    unit_of_the_shop = Exists(SuspensionUnit.objects.filter(pk=OuterRef("unit"), shop=shop))
    done = ServiceDone.objects.filter(unit_of_the_shop, on__gte=since)
    for unit, level, on, ticket, booked_at in done.values_list("unit", "level", "on", "ticket", "ticket__booked_at"):
        came_in = timezone.localtime(booked_at).date() if booked_at else on
        found[unit].append(((_LEVEL, level), Renewal(on, came_in, ticket)))
    return found


def _made_new_by_steps(shop: Shop, since: dt.date) -> Iterator[tuple[int, str, Renewal]]:
    """Unit, part and renewal of each step done that says it makes a part new, on tickets handed back; two queries."""
    parts_of = dict(Step.objects.exclude(renews=[]).order_by().values_list("pk", "renews"))
    handed_back = StateMove.objects.filter(
        of_the_shop(shop), at__gte=start_of(since), to_state=Ticket.State.HANDED_BACK,
        ticket__ticket_runs__run__ticks__step__in=list(parts_of),
    )  # fmt: skip
    rows = handed_back.order_by("ticket__ticket_runs__run__ticks__pk").values_list(
        "ticket__unit", "ticket", "ticket__booked_at", "at", "ticket__ticket_runs__run",
        "ticket__ticket_runs__run__ticks__step", "ticket__ticket_runs__run__ticks__outcome",
    )  # fmt: skip
    counts: dict[tuple[int, int, int], tuple[int, int, Renewal, str]] = {}
    for unit, ticket, booked_at, at, run, step, outcome in rows:
        renewal = Renewal(timezone.localtime(at).date(), timezone.localtime(booked_at).date(), ticket)
        counts[ticket, run, step] = (unit, step, renewal, outcome)
    for unit, step, renewal, outcome in counts.values():
        if outcome == Tick.Outcome.DONE:
            for part in parts_of[step]:
                yield unit, part, renewal


def _one_a_ticket(renewals: Iterable[Renewal]) -> list[Renewal]:
    """Of a part made new twice on one ticket, the last that was told."""
    return list({renewal.ticket or renewal.on: renewal for renewal in renewals}.values())


def _last_heard_of(riding: Mapping[int, RideHistory], since: dt.date) -> dict[int, dt.date]:
    """The last day on which a unit was here or something was told of its riding; one query.

    What was here longer before `since` than being heard of lasts makes no life longer.
    """
    here = Ticket.objects.filter(unit__in=list(riding), booked_at__gte=start_of(since - HEARD_OF_LASTS)).order_by()
    seen = dict(here.values_list("unit").annotate(last=Max("state_since")))
    heard = {}
    for unit, history in riding.items():
        days = [history.weekly[-1].since] if history.weekly else []
        days += [history.rides[-1].day] if history.rides else []
        days += [history.counter[-1].on] if history.counter else []
        days += [timezone.localtime(seen[unit]).date()] if unit in seen else []
        heard[unit] = max(days, default=dt.date.min)
    return heard
