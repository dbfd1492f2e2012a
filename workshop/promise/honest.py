"""The earliest day that can honestly be promised, and the promises that cannot be kept as things stand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from workshop.promise.capacity import bench_of, capacity_of
from workshop.promise.days import Bench, QueuedJob, finishing_days
from workshop.promise.expected import expected_arrivals
from workshop.promise.queued import IN_WORK, QueuedTicket, minutes_of_new_work, queued_minutes, queued_tickets
from workshop.staff.models import Shop
from workshop.stock.shortages import PartsStanding, stores_standing
from workshop.tickets.models import Ticket

_NEW = 0  # stands for the key of a ticket that is not there yet


@dataclass(frozen=True)
class HonestDay:
    """A day and, in sentences, why it is not sooner."""

    day: dt.date
    reasons: Sequence[str]


@dataclass(frozen=True)
class PromiseInDanger:
    """A ticket that is not done by its promised day as things stand: when it would be, and why not sooner.

    `kind` is “late” once the day is over, “today” on the day itself, else “ahead”. Nobody knows what is left of
    today, so what is due today and not ready is in danger until it is.
    """

    ticket_pk: int
    kind: str
    day: dt.date
    reason: str


def earliest_day(
    shop: Shop, today: dt.date, *, kind: str = "fork", complaints: Sequence[int] = (), model_pk: int | None = None
) -> HonestDay:
    """For a unit that is booked in now, behind everything that is queued.

    Args:
        complaints: keys of the complaints it is booked in for.
        model_pk: its model, where it is known: parts of its smallest service kit are looked up in the stores.
    """
    capacity = capacity_of(shop)
    bench = bench_of(capacity, today)
    tickets = queued_tickets(shop)
    queued = queued_minutes(shop, tickets, capacity.usual_minutes)
    own = minutes_of_new_work(shop, complaints, kind, capacity.usual_minutes)
    new = QueuedTicket(_NEW, dt.date.max, kind, Ticket.State.BOOKED_IN, "", model_pk)
    lacking = expected_arrivals(shop, [*tickets, new], today, capacity.unknown_lead_days).get(_NEW)
    jobs = [QueuedJob(queued[ticket.pk]) for ticket in tickets]
    day = finishing_days(bench, today, [*jobs, QueuedJob(own, lacking.day if lacking else None)])[-1]
    reasons = [
        f"{_hours(sum(queued.values()))} of work on {_tickets(len(tickets))} come first, "
        f"{_mechanics(bench)} at {bench.minutes_each / 60:g} h a day.",
        f"Its own work usually takes {_hours(own)}.",
    ]
    if lacking:
        reasons.append(f"Not there: {lacking.reason}.")
    return HonestDay(day, reasons)


def promises_in_danger(
    shop: Shop, today: dt.date, standing: PartsStanding | None = None, tickets: Sequence[QueuedTicket] | None = None
) -> list[PromiseInDanger]:
    """Promises that are not kept as things stand, worked by the order of promises; the earliest promise first.

    Every screen asks this: the ticket's own pages, the counter's day, the bench's board and the owner's overview.
    `standing` and `tickets` save the queries where the caller knows how the stores stand and what is queued.
    """
    capacity = capacity_of(shop)
    bench = bench_of(capacity, today)
    tickets = queued_tickets(shop) if tickets is None else tickets
    queued = queued_minutes(shop, tickets, capacity.usual_minutes)
    standing = standing or stores_standing(shop, with_quiet_items=False)
    expected = expected_arrivals(shop, tickets, today, capacity.unknown_lead_days)
    arrivals = expected | standing.arrivals(today, capacity.unknown_lead_days)
    jobs = [
        QueuedJob(queued[ticket.pk], arrivals[ticket.pk].day if ticket.pk in arrivals else None) for ticket in tickets
    ]
    by_queue = finishing_days(bench, today, [QueuedJob(job.minutes) for job in jobs])
    done = finishing_days(bench, today, jobs)
    dangers = []
    for ticket, day, without_parts in zip(tickets, done, by_queue, strict=True):
        if ticket.promised_on < day:
            kind = "ahead" if ticket.promised_on > today else "today" if ticket.promised_on == today else "late"
            if day > without_parts:
                reason = arrivals[ticket.pk].reason
            elif kind == "ahead":
                reason = "the work before it takes until then"
            else:
                reason = _what_is_left(ticket, queued[ticket.pk])
            dangers.append(PromiseInDanger(ticket.pk, kind, day, reason))
    return dangers


def promise_of(ticket: Ticket, today: dt.date) -> PromiseInDanger | None:
    """Whether one ticket's promise holds (None), and if not why. The queue before it is reckoned with."""
    if ticket.state not in IN_WORK:
        return None
    return next((one for one in promises_in_danger(ticket.shop, today) if one.ticket_pk == ticket.pk), None)


def mark_promises(tickets: Iterable[Ticket], dangers: Iterable[PromiseInDanger]) -> None:
    """Give rows of a list their `danger`, for templates/counter/_promise.html; asks the database nothing."""
    known = {danger.ticket_pk: danger for danger in dangers}
    for ticket in tickets:
        ticket.danger = known.get(ticket.pk)  # type: ignore[attr-defined]


def _what_is_left(ticket: QueuedTicket, minutes: float) -> str:
    if ticket.waiting_for == Ticket.WaitingFor.CUSTOMER:
        return "it waits for the customer’s answer"
    return f"{_hours(minutes)} of its own work is left"


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def _tickets(count: int) -> str:
    return "one ticket" if count == 1 else f"{count} tickets"


def _mechanics(bench: Bench) -> str:
    return "one mechanic" if bench.mechanics == 1 else f"{bench.mechanics} mechanics"
