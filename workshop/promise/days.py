"""When work is done: minutes on a bench that works some hours on some days. No Django."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

MOST_DAYS = 3 * 366


class NeverOpen(ValueError):
    """The bench is closed on every day of the week."""


@dataclass(frozen=True)
class Bench:
    """Minutes that the bench works on an open day, and when it rests. Weekdays count from Monday, 0."""

    mechanics: int
    minutes_each: float
    closed_weekdays: frozenset[int] = frozenset({5, 6})
    closed_days: frozenset[dt.date] = field(default_factory=frozenset)

    def __post_init__(self) -> None:
        if self.closed_weekdays >= set(range(7)):
            raise NeverOpen("The bench is closed on every day of the week.")

    @property
    def minutes_a_day(self) -> float:
        return self.mechanics * self.minutes_each

    def is_open(self, day: dt.date) -> bool:
        return day.weekday() not in self.closed_weekdays and day not in self.closed_days


@dataclass(frozen=True)
class QueuedJob:
    """Work of one ticket: its minutes, and from which day its parts let it go on (None: at once)."""

    minutes: float
    parts_on: dt.date | None = None


def open_days(bench: Bench, after: dt.date) -> Iterator[dt.date]:
    """The open days after a day. Raises NeverOpen if there is none within three years."""
    for ahead in range(1, MOST_DAYS):
        day = after + dt.timedelta(days=ahead)
        if bench.is_open(day):
            yield day
    raise NeverOpen("The bench has no open day within three years.")


def finishing_days(bench: Bench, today: dt.date, jobs: Sequence[QueuedJob]) -> list[dt.date]:
    """When each job is done, worked in this order from the next open day on.

    Today is not counted: nobody knows what is left of it. The bench shares its minutes, but a job is one
    mechanic's, so it takes at least its own minutes of one mechanic's days. A job whose parts come later begins
    on the first open day after they come, and gives its place to nobody: the minutes of the queue stay reckoned.
    """
    days: list[dt.date] = []
    coming = open_days(bench, today)

    def nth(count: int) -> dt.date:
        while len(days) < max(count, 1):
            days.append(next(coming))
        return days[max(count, 1) - 1]

    finished, worked = [], 0.0
    for job in jobs:
        start_day = math.floor(worked / bench.minutes_a_day)
        worked += job.minutes
        of_its_own = math.ceil(job.minutes / bench.minutes_each) or 1
        by_queue = max(math.ceil(worked / bench.minutes_a_day), start_day + of_its_own)
        done = nth(by_queue)
        if job.parts_on is not None:
            after_parts = open_days(bench, max(job.parts_on, today))
            done = max(done, [next(after_parts) for _ in range(of_its_own)][-1])
        finished.append(done)
    return finished
