"""When each mechanic is at the bench: hours by weekday, and days or half days away. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

MINUTES_OF_A_DAY = 24 * 60.0


@dataclass(frozen=True)
class Away:
    """From one day to another, both with it; `half` is half the hours of each of these days."""

    first: dt.date
    last: dt.date
    half: bool = False

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"It ends on {self.last}, before it begins on {self.first}.")

    def meets(self, other: Away) -> bool:
        """Whether a day is in both."""
        return self.first <= other.last and other.first <= self.last

    def share_on(self, day: dt.date) -> float:
        """How much of a day it takes, from 0 to 1."""
        return 0.0 if not self.first <= day <= self.last else 0.5 if self.half else 1.0


@dataclass(frozen=True)
class MechanicHours:
    """Minutes at the bench of one mechanic by weekday, Monday first, and when he is away."""

    key: int
    name: str
    week: Sequence[float]
    away: Sequence[Away] = field(default_factory=tuple)

    def __post_init__(self) -> None:
        if len(self.week) != 7 or not all(0 <= minutes <= MINUTES_OF_A_DAY for minutes in self.week):
            raise ValueError("A week has seven days of 0 to 24 hours.")

    def minutes_on(self, day: dt.date) -> float:
        """What is left of his hours on a day; nothing is ever taken twice."""
        return self.week[day.weekday()] * max(0.0, 1.0 - sum(away.share_on(day) for away in self.away))


def works_at_all(people: Iterable[MechanicHours], closed_weekdays: Iterable[int]) -> bool:
    """Whether anybody has an hour on a weekday on which the bench does not rest."""
    rests = set(closed_weekdays)
    return any(minutes > 0 for one in people for day, minutes in enumerate(one.week) if day not in rests)
