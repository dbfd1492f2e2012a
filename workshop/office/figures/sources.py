"""Plain rows out of the database for the figures, each in a number of queries that does not grow with the shop."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from diagnosis.learning import ClosedTick, causes_found_of_closed, told_minutes
from diagnosis.models import Cause, Checklist, Step
from workshop.charges.models import FinalCharges
from workshop.charges.sums import LABOUR, NOTHING, PART
from workshop.office.figures.bench_minutes import StepMinutesFigure
from workshop.office.figures.come_backs import WITHIN_DAYS
from workshop.office.figures.load import QueuedWork
from workshop.office.figures.money import Charge, without_tax
from workshop.office.figures.period import Period
from workshop.office.figures.shortages import LikelyShortage, Shortage
from workshop.office.figures.visits import TicketTimes
from workshop.promise.capacity import capacity_of
from workshop.promise.dealt import DealtJob
from workshop.promise.expected import expected_in_stores
from workshop.promise.queued import queued_minutes, queued_tickets
from workshop.staff.models import Shop, User
from workshop.stock.shortages import PartsStanding
from workshop.tickets.models import StateMove, Ticket, TicketEvent
from workshop.tickets.whose import of_the_shop
from workshop.web.days import end_of, start_of
from workshop.work.learned import ticks_of

State = Ticket.State
_ENDS = (State.READY, State.HANDED_BACK)


def moments(period: Period) -> tuple[dt.datetime, dt.datetime]:
    """The first moment of the period and the first after it, by the shop's clock."""
    return start_of(period.first), end_of(period.last)


def visits_of(shop: Shop, period: Period) -> list[TicketTimes]:
    """Visits that have to do with the period, and those on which a unit may have come back; three queries."""
    tickets = _around(shop, period)
    moves: dict[int, list[tuple[str, str, dt.datetime]]] = defaultdict(list)
    for ticket, to_state, waiting_for, at in (
        StateMove.objects.filter(ticket__in=tickets)
        .order_by("at", "pk")
        .values_list("ticket", "to_state", "waiting_for", "at")
    ):
        moves[ticket].append((to_state, waiting_for, timezone.localtime(at)))
    moved = set(
        TicketEvent.objects.filter(ticket__in=tickets, changes__has_key="promised_on")
        .order_by()
        .values_list("ticket", flat=True)
    )
    rows = _around(shop, period, "unit", "booked_at", "promised_on", "number")
    return [
        _visit(pk, unit, booked_at, promised_on, moves[pk], pk in moved)
        # In order here: asked for an order, SQLite takes an index that has it, and goes through every ticket.
        for pk, unit, booked_at, promised_on, number in sorted(rows, key=lambda row: row[-1])
    ]


def _visit(
    pk: int,
    unit: int,
    booked_at: dt.datetime,
    promised_on: dt.date,
    moves: Sequence[tuple[str, str, dt.datetime]],
    promise_moved: bool,
) -> TicketTimes:
    """Only the last time it became ready counts, and only if it stayed so until it was handed back."""
    ready_at = back_at = None
    called_off = False
    for to_state, _, at in moves:
        if to_state == State.HANDED_BACK:
            back_at = at
        else:
            back_at = None  # opened again: it is not back yet
            ready_at = at if to_state == State.READY else None
            called_off = to_state == State.CALLED_OFF
    return TicketTimes(
        ticket=pk,
        unit=unit,
        booked_at=timezone.localtime(booked_at),
        promised_on=promised_on,
        called_off=called_off,
        ready_at=ready_at,
        back_at=back_at,
        promise_moved=promise_moved,
        stays_days=_stays(timezone.localtime(booked_at), moves),
    )


def _stays(booked_at: dt.datetime, moves: Sequence[tuple[str, str, dt.datetime]]) -> dict[tuple[str, str], float]:
    """Days in each state, by its key and what was waited for, until the last move."""
    days: dict[tuple[str, str], float] = {}
    state, since = (str(State.BOOKED_IN), ""), booked_at
    for to_state, waiting_for, at in moves:
        days[state] = days.get(state, 0.0) + max((at - since).total_seconds(), 0.0) / 86_400
        state, since = (to_state, waiting_for), at
    return {state: spent for state, spent in days.items() if spent}


def complaints_booked(shop: Shop, period: Period) -> dict[int, list[str]]:
    """Titles of the complaints of the tickets booked in in the period; one query."""
    start, end = moments(period)
    titles: dict[int, list[str]] = defaultdict(list)
    booked = Ticket.objects.of_shop(shop).filter(booked_at__gte=start, booked_at__lt=end, complaints__isnull=False)
    for pk, title in booked.order_by("pk", "complaints__position").values_list("pk", "complaints__title"):
        titles[pk].append(title)
    return titles


def causes_of_tickets(shop: Shop, period: Period) -> dict[int, frozenset[str]]:
    """Titles of the causes that were found and hold, by the tickets of `visits_of`; three queries."""
    names = dict(Cause.objects.values_list("key", "title"))
    ticks, _ = ticks_of(_around(shop, period))
    by_complaint: dict[tuple[int, int], list[ClosedTick]] = defaultdict(list)
    for tick in ticks:
        by_complaint[tick.visit, tick.complaint].append(tick)
    found: dict[int, set[str]] = defaultdict(set)
    for (ticket, _), entries in by_complaint.items():
        found[ticket].update(names.get(cause, cause) for cause in causes_found_of_closed(entries).values())
    return {ticket: frozenset(titles) for ticket, titles in found.items() if titles}


def step_minutes_of(shop: Shop, period: Period) -> list[StepMinutesFigure]:
    """What each step took on the tickets handed back in the period, where its time can be told; four queries."""
    start, end = moments(period)
    ticks, corrected = ticks_of(_moved_to(shop, [State.HANDED_BACK], start, end).values("ticket"))
    by_visit: dict[int, list[ClosedTick]] = defaultdict(list)
    for tick in ticks:
        by_visit[tick.visit].append(tick)
    found: dict[tuple[str, float], list[tuple[float, int]]] = defaultdict(list)
    where: dict[tuple[str, float], set[int]] = defaultdict(set)
    for ticket, entries in by_visit.items():
        for complaint in {tick.complaint for tick in entries}:
            own = [tick for tick in entries if tick.complaint == complaint]
            planned = {tick.step_key: tick.planned_minutes for tick in own}
            for key, minutes in told_minutes(entries, own, corrected).items():
                found[key, planned[key]].append((minutes, ticket))
                where[key, planned[key]].add(complaint)
    checklists = dict(Checklist.objects.filter(is_current=True).values_list("complaint", "title"))
    titles = dict(Step.objects.order_by("checklist__number").values_list("key", "title"))
    return [
        StepMinutesFigure(
            _checklist_words([checklists.get(complaint, "") for complaint in where[key, planned]]),
            titles.get(key, key),
            planned,
            [minutes for minutes, _ in told],
            [ticket for _, ticket in told],
        )
        for (key, planned), told in found.items()
    ]


def _checklist_words(titles: Sequence[str]) -> str:
    """A step that several checklists share is one step."""
    return titles[0] if len(titles) == 1 else f"{len(titles)} checklists"


def charges_of_period(shop: Shop, period: Period) -> list[Charge]:
    """What tickets handed back in the period were charged; one query."""
    start, end = moments(period)
    finals = FinalCharges.objects.filter(of_the_shop(shop), at__gte=start, at__lt=end).order_by("at", "pk")
    return [_charge(final) for final in finals]


def _charge(final: FinalCharges) -> Charge:
    kinds = {line["kind"] for line in final.lines if line["amount"]}
    labour = final.net
    if PART in kinds:
        labour = sum((_net(line, final) for line in final.lines if line["kind"] == LABOUR and line["amount"]), NOTHING)
    return Charge(
        ticket=final.ticket_id,
        on=timezone.localtime(final.at).date(),
        currency=final.currency,
        labour=labour,
        net=final.net,
        tax=final.tax,
        gross=final.gross,
    )


def _net(line: Mapping[str, Any], final: FinalCharges) -> Decimal:
    includes_tax = final.prices_include_tax
    return without_tax(Decimal(line["amount"]), Decimal(line["tax_percent"]), includes_tax=includes_tax)


def queued_work(shop: Shop) -> list[QueuedWork]:
    """Tickets whose work is not done, and what is left of it."""
    tickets = queued_tickets(shop)
    minutes = queued_minutes(shop, tickets, capacity_of(shop).usual_minutes)
    return [QueuedWork(ticket.pk, ticket.promised_on, minutes[ticket.pk]) for ticket in tickets]


def dealt_work(shop: Shop) -> tuple[list[DealtJob], dict[int, str]]:
    """The queue by the order of promises with who has each ticket, and the names of those."""
    tickets = queued_tickets(shop)
    minutes = queued_minutes(shop, tickets, capacity_of(shop).usual_minutes)
    of_tickets = Ticket.objects.of_shop(shop).filter(pk__in=[one.pk for one in tickets], mechanic__isnull=False)
    given = dict(of_tickets.values_list("pk", "mechanic"))
    names = {one.pk: str(one) for one in User.objects.filter(pk__in=set(given.values()))}
    return [DealtJob(one.pk, given.get(one.pk), minutes[one.pk]) for one in tickets], names


def shortages_in(standing: PartsStanding) -> list[Shortage]:
    """What is missing of parts the shop keeps, and what tickets want that it does not keep."""
    found = [
        Shortage(
            title=row.item.part.description,
            number=row.item.part.number,
            there=row.level,
            on_order=row.on_order,
            wanted=row.wanted,
            missing=row.missing,
            first_promise=min(share.want.promised_on for share in row.missing_shares),
            lead_days=row.item.lead_days,
            tickets=[share.want.ticket_pk for share in row.missing_shares],
        )
        for row in standing.items
        if row.missing
    ]
    for other in standing.not_kept:
        wanted = sum((want.quantity for want in other.wants), NOTHING)
        found.append(
            Shortage(
                title=other.title,
                number=other.part.number if other.part else "",
                there=None,
                on_order=None,
                wanted=wanted,
                missing=wanted,
                first_promise=min(want.promised_on for want in other.wants),
                lead_days=None,
                tickets=[want.ticket_pk for want in other.wants],
            )
        )
    return found


def likely_shortages(shop: Shop) -> list[LikelyShortage]:
    """Parts that open tickets are likely to need by what they were booked in for, and that are not there for them."""
    return [
        LikelyShortage(
            title=one.part.description,
            number=one.part.number,
            there=None if one.row is None else one.row.level,
            on_order=None if one.row is None else one.row.on_order,
            expected=one.amount,
            most=one.most,
            chance_short=one.chance_short,
            tickets=[want.ticket_pk for want in one.lacking],
        )
        for one in expected_in_stores(shop).values()
        if one.missing
    ]


def _around(shop: Shop, period: Period, *fields: str) -> QuerySet[Any, Any]:
    """Keys of the tickets that have to do with the period, and those on which a unit of it may have come back.

    A union, where each part has its index; with the fields named, so that no ticket is looked up by its key again.
    """
    start, end = moments(period)
    soon_after = end + dt.timedelta(days=WITHIN_DAYS + 1)
    mine = Ticket.objects.of_shop(shop).order_by()
    booked = mine.filter(booked_at__gte=start, booked_at__lt=soon_after)
    promised = mine.filter(state__in=State.values, promised_on__gte=period.first, promised_on__lte=period.last)
    ended = _moved_to(shop, _ENDS, start, end)
    of_ended = ["ticket", *(f"ticket__{field}" for field in fields)]
    return booked.values_list("pk", *fields).union(promised.values_list("pk", *fields), ended.values_list(*of_ended))


def _moved_to(shop: Shop, states: Sequence[str], start: dt.datetime, end: dt.datetime) -> QuerySet[StateMove]:
    """Moves of the shop's tickets to a state in these days."""
    return StateMove.objects.filter(of_the_shop(shop), to_state__in=states, at__gte=start, at__lt=end).order_by()
