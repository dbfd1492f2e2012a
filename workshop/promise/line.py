"""The open days of a bench in a row, with the minutes that are worked by the end of each. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

# Sums of hours in floats differ in their last digits; a job is not put off a day for a thousandth of a minute.
HAIR_MIN = 1e-3


class Line:
    """Days are counted from 1, the first open day; `minutes` and `longest` are of all mechanics, and of one."""

    def __init__(
        self, days: Iterator[dt.date], minutes: Callable[[dt.date], float], longest: Callable[[dt.date], float]
    ) -> None:
        self._coming, self._minutes, self._longest = days, minutes, longest
        self._days: list[dt.date] = []
        self._until = [0.0]

    def day(self, count: int) -> dt.date:
        """The day of that number."""
        while len(self._days) < max(count, 1):
            day = next(self._coming)
            self._days.append(day)
            self._until.append(self._until[-1] + self._minutes(day))
        return self._days[max(count, 1) - 1]

    def until(self, count: int) -> float:
        """Minutes that are worked by the end of a day; 0 of day 0."""
        if count:
            self.day(count)
        return self._until[count]

    def days_for(self, minutes: float, known: int = 1) -> int:
        """The number of the day by whose end so many minutes are worked, at least `known`."""
        count = max(known, 1)
        while self.until(count) < minutes - HAIR_MIN:
            count += 1
        return count

    def full_days(self, minutes: float, known: int = 0) -> int:
        """How many days are over, none less than `known`, when so many minutes are worked."""
        count = known
        while self.until(count + 1) <= minutes + HAIR_MIN:
            count += 1
        return count

    def days_of_one(self, minutes: float, after: int = 0) -> int:
        """How many days after day `after` one mechanic takes, whoever has the longest hours on each; at least 1."""
        left, count = minutes, 0
        while count < 1 or left > HAIR_MIN:
            count += 1
            left -= self._longest(self.day(after + count))
        return count
