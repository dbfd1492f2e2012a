"""The earliest day that can honestly be promised, and the promises that cannot be kept as things stand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from workshop.promise.capacity import bench_of, capacity_of
from workshop.promise.days import Bench, QueuedJob, finishing_days
from workshop.promise.expected import StoresForPromises, stores_for_promises
from workshop.promise.queued import IN_WORK, QueuedTicket, minutes_of_new_work, queued_minutes, queued_tickets
from workshop.staff.models import Shop
from workshop.stock.arrivals import Arrival
from workshop.tickets.models import Ticket
from workshop.web.durations import duration_words

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
    today, so what is due today and not ready is in danger until it is. `arrival` is of the part it waits for, where it
    is a part that makes the difference.
    """

    ticket_pk: int
    kind: str
    day: dt.date
    reason: str
    arrival: Arrival | None = None


def earliest_day(
    shop: Shop, today: dt.date, *, kind: str = "fork", complaints: Sequence[int] = (), model_pk: int | None = None
) -> HonestDay:
    """For a unit that is booked in now, behind everything that is queued.

    Args:
        complaints: keys of the complaints it is booked in for.
        model_pk: its model, where it is known: the parts that it is likely to need are looked up in the stores.
    """
    capacity = capacity_of(shop)
    bench = bench_of(capacity, today)
    tickets = queued_tickets(shop)
    queued = queued_minutes(shop, tickets, capacity.usual_minutes)
    own = minutes_of_new_work(shop, complaints, kind, capacity.usual_minutes)
    new = QueuedTicket(_NEW, dt.date.max, kind, Ticket.State.BOOKED_IN, "", model_pk)
    stores = stores_for_promises(shop, [*tickets, new], {_NEW: complaints})
    lacking = stores.arrivals(today, capacity.unknown_lead_days).get(_NEW)
    jobs = [QueuedJob(queued[ticket.pk]) for ticket in tickets]
    day = finishing_days(bench, today, [*jobs, QueuedJob(own, lacking.day if lacking else None)])[-1]
    reasons = [
        f"{duration_words(sum(queued.values()))} of work on {_tickets(len(tickets))} come first, "
        f"{_mechanics(bench)} {_hours_of(bench)}.",
        f"Its own work usually takes {duration_words(own)}.",
    ]
    if lacking:
        reasons.append(f"Not there: {lacking.reason}.")
    return HonestDay(day, reasons)


@dataclass(frozen=True)
class Queue:
    """The work of a shop by the order of promises: what is left of each ticket, and when its parts come."""

    bench: Bench
    tickets: Sequence[QueuedTicket]
    minutes: Mapping[int, float]
    arrivals: Mapping[int, Arrival]

    @property
    def jobs(self) -> list[QueuedJob]:
        return [self.job_of(ticket) for ticket in self.tickets]

    def job_of(self, ticket: QueuedTicket) -> QueuedJob:
        arrival = self.arrivals.get(ticket.pk)
        return QueuedJob(self.minutes[ticket.pk], arrival.day if arrival else None)


def queue_of(
    shop: Shop, today: dt.date, stores: StoresForPromises | None = None, tickets: Sequence[QueuedTicket] | None = None
) -> Queue:
    """What every promise is reckoned from; `stores` and `tickets` save the queries where the caller knows them."""
    capacity = capacity_of(shop)
    tickets = queued_tickets(shop) if tickets is None else tickets
    minutes = queued_minutes(shop, tickets, capacity.usual_minutes)
    stores = stores or stores_for_promises(shop, tickets)
    return Queue(bench_of(capacity, today), tickets, minutes, stores.arrivals(today, capacity.unknown_lead_days))


def promises_in_danger(
    shop: Shop, today: dt.date, stores: StoresForPromises | None = None, tickets: Sequence[QueuedTicket] | None = None
) -> list[PromiseInDanger]:
    """Promises that are not kept as things stand, worked by the order of promises; the earliest promise first.

    Every screen asks this: the ticket's own pages, the counter's day, the bench's board and the owner's overview.
    It counts the hours, the parts on tickets and those that are likely to be needed. `stores` and `tickets` save the
    queries where the caller knows how the stores stand and what is queued.
    """
    queue = queue_of(shop, today, stores, tickets)
    bench, arrivals = queue.bench, queue.arrivals
    by_queue = finishing_days(bench, today, [QueuedJob(job.minutes) for job in queue.jobs])
    done = finishing_days(bench, today, queue.jobs)
    dangers = []
    for ticket, day, without_parts in zip(queue.tickets, done, by_queue, strict=True):
        if ticket.promised_on < day:
            kind = "ahead" if ticket.promised_on > today else "today" if ticket.promised_on == today else "late"
            arrival = arrivals[ticket.pk] if day > without_parts else None
            if arrival is not None:
                reason = arrival.reason
            elif kind == "ahead":
                reason = "earlier jobs run until then"
            else:
                reason = _what_is_left(ticket, queue.minutes[ticket.pk])
            dangers.append(PromiseInDanger(ticket.pk, kind, day, reason, arrival))
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
    return f"{duration_words(minutes)} of its own work is left"


def _tickets(count: int) -> str:
    return "one ticket" if count == 1 else f"{count} tickets"


def _mechanics(bench: Bench) -> str:
    count = len(bench.people) or bench.mechanics
    return "one mechanic" if count == 1 else f"{count} mechanics"


def _hours_of(bench: Bench) -> str:
    return "at the hours of the calendar" if bench.people else f"at {bench.minutes_each / 60:g} h a day"
