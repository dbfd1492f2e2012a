"""The earliest day that can honestly be promised, and the promises that cannot be kept as things stand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from specs.models import KitLine, ServiceKit
from workshop.promise.capacity import bench_of, capacity_of
from workshop.promise.days import Bench, Job, finishing_days
from workshop.promise.queued import QueuedTicket, minutes_of_new_work, queued_minutes, queued_tickets
from workshop.staff.models import Shop
from workshop.stores.arrivals import Arrival, to_be_ordered
from workshop.stores.shortages import Standing, stores_standing


@dataclass(frozen=True)
class HonestDay:
    """A day and, in sentences, why it is not sooner."""

    day: dt.date
    reasons: Sequence[str]


@dataclass(frozen=True)
class PromiseInDanger:
    """A ticket that is not done by its promised day as things stand, when it would be, and why."""

    ticket_pk: int
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
    lacking = _lacking(stores_standing(shop), model_pk, today, capacity.unknown_lead_days) if model_pk else None
    jobs = [Job(queued[ticket.pk]) for ticket in tickets]
    day = finishing_days(bench, today, [*jobs, Job(own, lacking.day if lacking else None)])[-1]
    reasons = [
        f"{_hours(sum(queued.values()))} of work on {_tickets(len(tickets))} come first, "
        f"{_mechanics(bench)} at {bench.minutes_each / 60:g} h a day.",
        f"Its own work usually takes {_hours(own)}.",
    ]
    if lacking:
        reasons.append(f"Not there: {lacking.reason}.")
    return HonestDay(day, reasons)


def promises_in_danger(
    shop: Shop, today: dt.date, standing: Standing | None = None, tickets: Sequence[QueuedTicket] | None = None
) -> list[PromiseInDanger]:
    """Promises for later than today that would not be kept, worked by the order of promises; the earliest first.

    `standing` and `tickets` save the queries where the caller knows how the stores stand and what is queued.
    """
    capacity = capacity_of(shop)
    bench = bench_of(capacity, today)
    tickets = queued_tickets(shop) if tickets is None else tickets
    queued = queued_minutes(shop, tickets, capacity.usual_minutes)
    standing = standing or stores_standing(shop, with_quiet_items=False)
    arrivals = standing.arrivals(today, capacity.unknown_lead_days)
    jobs = [Job(queued[ticket.pk], arrivals[ticket.pk].day if ticket.pk in arrivals else None) for ticket in tickets]
    by_queue = finishing_days(bench, today, [Job(job.minutes) for job in jobs])
    done = finishing_days(bench, today, jobs)
    dangers = []
    for ticket, day, without_parts in zip(tickets, done, by_queue, strict=True):
        if today < ticket.promised_on < day:
            waits = day > without_parts
            reason = arrivals[ticket.pk].reason if waits else "the work before it takes until then"
            dangers.append(PromiseInDanger(ticket.pk, day, reason))
    return dangers


def _lacking(standing: Standing, model_pk: int, today: dt.date, unknown_days: int) -> Arrival | None:
    """The last to come of the parts of the model's smallest kit, of those that nothing is left of; one query."""
    order = {level: place for place, level in enumerate(ServiceKit.Level.values)}
    lines = list(KitLine.objects.filter(kit__model=model_pk).select_related("part", "kit"))
    smallest = min((line.kit.level for line in lines), key=lambda level: order[level], default=None)
    known = {row.item.part_id: row for row in standing.items}
    arrivals = []
    for line in lines:
        if line.kit.level == smallest:
            row = known.get(line.part_id)
            arrivals.append(
                row.arrival_for_new(line.quantity, today, unknown_days)
                if row is not None
                else to_be_ordered(line.part.description, None, today, unknown_days)
            )
    return max((arrival for arrival in arrivals if arrival), key=lambda arrival: arrival.day, default=None)


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def _tickets(count: int) -> str:
    return "one ticket" if count == 1 else f"{count} tickets"


def _mechanics(bench: Bench) -> str:
    return "one mechanic" if bench.mechanics == 1 else f"{bench.mechanics} mechanics"
