"""The days a figure is of, and the months, quarters or years it is told by. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

MOST_MONTHS_SHOWN = 18
MOST_QUARTERS_SHOWN = 24
LONGEST_YEARS = 20


@dataclass(frozen=True)
class PeriodStep:
    """A month, a quarter or a year of a period: its first day, the day after its last, its key and its words."""

    first: dt.date
    end: dt.date
    key: str
    words: str


@dataclass(frozen=True)
class Period:
    """From `first` to `last`, both included."""

    first: dt.date
    last: dt.date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"last: {self.last} is before {self.first}")

    def __contains__(self, day: dt.date) -> bool:
        return self.first <= day <= self.last

    @property
    def step_months(self) -> int:
        """How many months a step has: so few that a drawing and a table can be read."""
        months = (self.last.year - self.first.year) * 12 + self.last.month - self.first.month + 1
        if months <= MOST_MONTHS_SHOWN:
            return 1
        return 3 if months <= 3 * MOST_QUARTERS_SHOWN else 12

    @property
    def step_words(self) -> str:
        """What a step is, for the axis that is told by it."""
        return {1: "month", 3: "quarter", 12: "year"}[self.step_months]

    @property
    def steps(self) -> list[PeriodStep]:
        """Calendar months, quarters or years that the period touches; the first and the last may be cut."""
        return list(self._steps())

    def _steps(self) -> Iterator[PeriodStep]:
        start = step_start(self.first, self.step_months)
        while start <= self.last:
            end = _months_on(start, self.step_months)
            yield PeriodStep(max(start, self.first), min(end, self.last + dt.timedelta(days=1)), *self._named(start))
            start = end

    def step_key(self, day: dt.date) -> str:
        """The key of the step that a day is in."""
        return self._named(step_start(day, self.step_months))[0]

    def _named(self, start: dt.date) -> tuple[str, str]:
        if self.step_months == 1:
            return f"{start:%Y-%m}", f"{start:%b %Y}"
        if self.step_months == 3:
            quarter = (start.month + 2) // 3
            return f"{start.year}-q{quarter}", f"Q{quarter} {start.year}"
        return str(start.year), str(start.year)


def last_months(today: dt.date, months: int = 12) -> Period:
    """The month of `today` and those before it, so many in total."""
    return Period(_months_on(today.replace(day=1), 1 - months), today)


def step_start(day: dt.date, months: int) -> dt.date:
    """The first day of the month, quarter or year of a day."""
    return day.replace(month=(day.month - 1) // months * months + 1, day=1)


def _months_on(first_of_month: dt.date, months: int) -> dt.date:
    total = first_of_month.year * 12 + first_of_month.month - 1 + months
    return dt.date(total // 12, total % 12 + 1, 1)
