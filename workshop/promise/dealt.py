"""The minutes of the queue dealt to the open days, as every promise is reckoned. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from workshop.promise.days import Bench, line_of
from workshop.promise.line import HAIR_MIN


@dataclass(frozen=True)
class DealtJob:
    """Work of one ticket, and the key of the mechanic it is given to, None where nobody has it yet."""

    ticket: int
    mechanic: int | None
    minutes: float


@dataclass(frozen=True)
class Dealt:
    """Minutes of a job on a day."""

    day: dt.date
    job: DealtJob
    minutes: float


def deal(bench: Bench, today: dt.date, jobs: Sequence[DealtJob], days: int) -> tuple[list[dt.date], list[Dealt]]:
    """The first open days after today, and the minutes of the queue on them, in its order.

    A day takes the minutes of all mechanics together, whoever a ticket is given to: so reckon the promises. By the
    day on which its last minute lies a job is done at the earliest (`finishing_days`); one that is longer than a
    mechanic's day, or waits for parts, is done later and holds up nobody.
    """
    line = line_of(bench, today)
    shown = [line.day(count) for count in range(1, days + 1)]
    dealt: list[Dealt] = []
    count, free = 1, line.until(1)
    for job in jobs:
        left = job.minutes
        while left > HAIR_MIN and count <= days:
            taken = min(left, free)
            if taken > HAIR_MIN:
                dealt.append(Dealt(line.day(count), job, taken))
            left, free = left - taken, free - taken
            if free <= HAIR_MIN:
                count += 1
                free = line.until(count) - line.until(count - 1) if count <= days else 0.0
        if count > days:
            break
    return shown, dealt
