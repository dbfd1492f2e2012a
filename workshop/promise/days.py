"""When work is done: minutes on a bench that works some hours on some days. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from workshop.promise.calendar import MechanicHours
from workshop.promise.line import Line

MOST_DAYS = 3 * 366


class NeverOpen(ValueError):
    """The bench is closed on every day of the week."""


@dataclass(frozen=True)
class Bench:
    """Minutes that the bench works on an open day, and when it rests. Weekdays count from Monday, 0.

    Where `people` have calendars, their hours go before `mechanics` and `minutes_each`.
    """

    mechanics: int
    minutes_each: float
    closed_weekdays: frozenset[int] = frozenset({5, 6})
    closed_days: frozenset[dt.date] = field(default_factory=frozenset)
    people: tuple[MechanicHours, ...] = ()

    def __post_init__(self) -> None:
        if self.closed_weekdays >= set(range(7)):
            raise NeverOpen("The bench is closed on every day of the week.")

    def is_open(self, day: dt.date) -> bool:
        """Whether somebody works on a day."""
        if day.weekday() in self.closed_weekdays or day in self.closed_days:
            return False
        return not self.people or any(one.minutes_on(day) > 0 for one in self.people)

    def minutes_on(self, day: dt.date) -> float:
        """Of all mechanics on a day; 0 where the bench rests."""
        if not self.is_open(day):
            return 0.0
        return sum(one.minutes_on(day) for one in self.people) if self.people else self.mechanics * self.minutes_each

    def longest_on(self, day: dt.date) -> float:
        """Of the one mechanic who works longest on an open day."""
        return max(one.minutes_on(day) for one in self.people) if self.people else self.minutes_each


@dataclass(frozen=True)
class QueuedJob:
    """Work of one ticket: its minutes, and from which day its parts let it go on (None: at once)."""

    minutes: float
    parts_on: dt.date | None = None


def open_days(bench: Bench, after: dt.date) -> Iterator[dt.date]:
    """The open days after a day. Raises NeverOpen if there is none within three years of it, or of the last."""
    day, rested = after, 0
    while rested < MOST_DAYS:
        day, rested = day + dt.timedelta(days=1), rested + 1
        if bench.is_open(day):
            yield day
            rested = 0
    raise NeverOpen("The bench has no open day within three years.")


def taken_in(bench: Bench, day: dt.date) -> dt.date:
    """The day itself, or the next one on which the shop does not rest, whether or not a mechanic is there."""
    while day.weekday() in bench.closed_weekdays or day in bench.closed_days:
        day += dt.timedelta(days=1)
    return day


def line_of(bench: Bench, after: dt.date) -> Line:
    """The open days after a day, with what is worked on each."""
    return Line(open_days(bench, after), bench.minutes_on, bench.longest_on)


def finishing_days(bench: Bench, today: dt.date, jobs: Sequence[QueuedJob]) -> list[dt.date]:
    """When each job is done, worked in this order from the next open day on.

    Today is not counted: nobody knows what is left of it. The bench shares its minutes, but a job is one
    mechanic's, so it takes at least its own minutes of the longest days that one mechanic has. A job whose parts come
    later begins on the first open day after they come, and gives its place to nobody: the minutes of the queue stay
    reckoned. What is expected on a day of rest comes on the next day on which somebody is there to take it in.
    """
    line = line_of(bench, today)
    finished, worked, full, queue_day = [], 0.0, 0, 1
    for job in jobs:
        full = line.full_days(worked, full)
        worked += job.minutes
        queue_day = line.days_for(worked, queue_day)
        done = line.day(max(queue_day, full + line.days_of_one(job.minutes, full)))
        if job.parts_on is not None:
            after_parts = line_of(bench, taken_in(bench, max(job.parts_on, today)))
            done = max(done, after_parts.day(after_parts.days_of_one(job.minutes)))
        finished.append(done)
    return finished
