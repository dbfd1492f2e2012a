"""Which promises a job pushes that is squeezed in, asked before it is taken: the honest day's own arithmetic."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from workshop.promise.capacity import capacity_of
from workshop.promise.days import QueuedJob, finishing_days
from workshop.promise.honest import Queue, queue_of
from workshop.promise.queued import QueuedTicket, minutes_of_new_work
from workshop.staff.models import Shop, User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.day_words import day_in_words

MOST_NAMED = 4


@dataclass(frozen=True)
class Pushed:
    """A promise that is not kept any more, or kept still later: when it would have been done, and when it will be."""

    number: int
    promised_on: dt.date
    before: dt.date
    after: dt.date

    @property
    def days(self) -> int:
        """By how much it is pushed, in days of the calendar."""
        return (self.after - self.before).days

    def __str__(self) -> str:
        by = "one day" if self.days == 1 else f"{self.days} days"
        return (
            f"Ticket {self.number}, promised for {day_in_words(self.promised_on)}, would be done on "
            f"{day_in_words(self.after)}, {by} later than now."
        )


def pushed_by_booking(
    shop: Shop, today: dt.date, *, promised_on: dt.date, kind: str = "fork", complaints: Sequence[int] = ()
) -> list[Pushed]:
    """What a new ticket pushes that is promised for a day, by its usual minutes; behind all of the same day."""
    queue = queue_of(shop, today)
    own = minutes_of_new_work(shop, complaints, kind, capacity_of(shop).usual_minutes)
    earlier = sum(ticket.promised_on <= promised_on for ticket in queue.tickets)
    order: list[QueuedTicket | None] = [*queue.tickets]
    order.insert(earlier, None)
    return _pushed(queue, today, order, own)


def pushed_by_move(shop: Shop, today: dt.date, *, tickets: Iterable[int], to: dt.date) -> list[Pushed]:
    """What is pushed where these tickets, by key, are promised for another day; they themselves are not told."""
    queue, moved = queue_of(shop, today), set(tickets)
    numbers = _numbers(queue.tickets)

    def place(ticket: QueuedTicket) -> tuple[dt.date, int]:
        return (to if ticket.pk in moved else ticket.promised_on, numbers[ticket.pk])

    order = sorted(queue.tickets, key=place)
    return _pushed(queue, today, order, leave_out=moved)


def pushed_by_taking(shop: Shop, today: dt.date, *, ticket: int) -> list[Pushed]:
    """What is pushed where a mechanic takes a ticket, by its key, first; what waits is not held up by that."""
    queue = queue_of(shop, today)
    order = sorted(queue.tickets, key=lambda one: one.pk != ticket)  # else as they were
    waiting = {one.pk for one in queue.tickets if one.state == Ticket.State.WAITING}
    return _pushed(queue, today, order, leave_out={ticket, *waiting})


def pushed_in_words(pushed: Sequence[Pushed]) -> str:
    """The first few in sentences, with how many more there are."""
    more = len(pushed) - MOST_NAMED
    said = " ".join(map(str, pushed[:MOST_NAMED]))
    return f"{said} {more} more {'promise is' if more == 1 else 'promises are'} pushed." if more > 0 else said


def pushed_key(day: dt.date, pushed: Sequence[Pushed]) -> str:
    """What a tick for it holds for: this day and these promises, pushed so far."""
    return " ".join([day.isoformat(), *(f"{one.number}:{one.after.isoformat()}" for one in pushed)])


def keep_squeezed_in(*, ticket: Ticket, by: User | None, pushed: Sequence[Pushed]) -> None:
    """Write into the logbook which promises were known to be pushed, in the transaction that takes the job."""
    if pushed:
        told = [[one.number, one.promised_on.isoformat(), one.after.isoformat(), one.days] for one in pushed]
        log(ticket=ticket, by=by, kind="squeezed_in", values={"pushed": told})


def _pushed(
    queue: Queue,
    today: dt.date,
    order: Sequence[QueuedTicket | None],
    new_minutes: float = 0.0,
    leave_out: Iterable[int] = (),
) -> list[Pushed]:
    """The promises done later in another order than now, and after their day; None stands for the new job.

    Parts stay as they are shared out now: a job whose parts come late is held up by them either way.
    """
    before = dict(zip(queue.tickets, finishing_days(queue.bench, today, queue.jobs), strict=True))
    jobs = [QueuedJob(new_minutes) if ticket is None else queue.job_of(ticket) for ticket in order]
    after = dict(zip(order, finishing_days(queue.bench, today, jobs), strict=True))
    out = set(leave_out)
    late = [
        ticket
        for ticket in queue.tickets
        if ticket.pk not in out and after[ticket] > max(before[ticket], ticket.promised_on)
    ]
    numbers = _numbers(late) if late else {}
    return [Pushed(numbers[one.pk], one.promised_on, before[one], after[one]) for one in late]


def _numbers(tickets: Iterable[QueuedTicket]) -> dict[int, int]:
    return dict(Ticket.objects.filter(pk__in=[ticket.pk for ticket in tickets]).values_list("pk", "number"))
