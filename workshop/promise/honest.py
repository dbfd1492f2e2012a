"""The earliest day that can honestly be promised, and the promises that cannot be kept as things stand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from specs.models import KitLine, ServiceKit
from workshop.promise.capacity import bench_of, capacity_of
from workshop.promise.days import Bench, Job, finishing_days
from workshop.promise.queued import minutes_of_new_work, queued_minutes, queued_tickets
from workshop.staff.models import Shop
from workshop.stores.shortages import Standing, stores_standing
from workshop.tickets.models import Ticket


@dataclass(frozen=True)
class HonestDay:
    """A day and, in sentences, why it is not sooner."""

    day: dt.date
    reasons: Sequence[str]


@dataclass(frozen=True)
class PromiseInDanger:
    """A ticket that is not done by its promised day as things stand, when it would be, and why."""

    ticket: Ticket
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
    lacking = _lacking(shop, stores_standing(shop), model_pk, capacity.unknown_lead_days) if model_pk else None
    parts_on = today + dt.timedelta(days=lacking[0]) if lacking else None
    jobs = [Job(queued[ticket.pk]) for ticket in tickets]
    day = finishing_days(bench, today, [*jobs, Job(own, parts_on)])[-1]
    reasons = [
        f"{_hours(sum(queued.values()))} of work on {_tickets(len(tickets))} come first, "
        f"{_mechanics(bench)} at {bench.minutes_each / 60:g} h a day.",
        f"Its own work usually takes {_hours(own)}.",
    ]
    if lacking:
        reasons.append(f"{lacking[1]} is short and takes {_days(lacking[0])} to come.")
    return HonestDay(day, reasons)


def promises_in_danger(shop: Shop, today: dt.date, standing: Standing | None = None) -> list[PromiseInDanger]:
    """Promises for later than today that would not be kept, worked by the order of promises; the earliest first.

    `standing` saves the queries where the caller knows how the stores stand.
    """
    capacity = capacity_of(shop)
    bench = bench_of(capacity, today)
    tickets = queued_tickets(shop)
    queued = queued_minutes(shop, tickets, capacity.usual_minutes)
    standing = standing or stores_standing(shop, with_quiet_items=False)
    lead = standing.last_lead_days(capacity.unknown_lead_days)
    jobs = [
        Job(queued[ticket.pk], today + dt.timedelta(days=lead[ticket.pk][0]) if ticket.pk in lead else None)
        for ticket in tickets
    ]
    by_queue = finishing_days(bench, today, [Job(job.minutes) for job in jobs])
    done = finishing_days(bench, today, jobs)
    dangers = []
    for ticket, day, without_parts in zip(tickets, done, by_queue, strict=True):
        if today < ticket.promised_on < day:
            reason = "the work before it takes until then"
            if day > without_parts:
                days, title = lead[ticket.pk]
                reason = f"{title} takes {_days(days)} to come"
            dangers.append(PromiseInDanger(ticket, day, reason))
    return dangers


def _lacking(shop: Shop, standing: Standing, model_pk: int, unknown: int) -> tuple[int, str] | None:
    """The longest lead time among parts of the model's smallest kit that nothing is left of, and which part."""
    order = {level: place for place, level in enumerate(ServiceKit.Level.values)}
    lines = list(KitLine.objects.filter(kit__model=model_pk).select_related("part", "kit"))
    if not lines:
        return None
    smallest = min((line.kit.level for line in lines), key=lambda level: order[level])
    known = {row.item.part_id: row for row in standing.items}
    longest: tuple[int, str] | None = None
    for line in lines:
        if line.kit.level != smallest:
            continue
        row = known.get(line.part_id)
        if row is not None and row.level - row.wanted >= line.quantity:
            continue
        days = unknown if row is None or row.item.lead_days is None else row.item.lead_days
        if longest is None or days > longest[0]:
            longest = (days, line.part.description)
    return longest


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def _tickets(count: int) -> str:
    return "one ticket" if count == 1 else f"{count} tickets"


def _days(count: int) -> str:
    return "one day" if count == 1 else f"{count} days"


def _mechanics(bench: Bench) -> str:
    return "one mechanic" if bench.mechanics == 1 else f"{bench.mechanics} mechanics"
