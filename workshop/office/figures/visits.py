"""A visit of a unit to the shop, as the figures take it. No Django."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from workshop.office.figures.period import Period

SECONDS_A_DAY = 86_400.0


@dataclass(frozen=True)
class TicketTimes:
    """One ticket. Times are aware, in the shop's time zone; `stays_days` is days by state and what is waited for."""

    ticket: int
    unit: int
    booked_at: dt.datetime
    promised_on: dt.date
    called_off: bool = False
    ready_at: dt.datetime | None = None
    back_at: dt.datetime | None = None
    promise_moved: bool = False
    stays_days: Mapping[tuple[str, str], float] = field(default_factory=dict)

    @property
    def days_to_ready(self) -> float | None:
        return None if self.ready_at is None else _days(self.booked_at, self.ready_at)

    @property
    def days_to_back(self) -> float | None:
        return None if self.back_at is None else _days(self.booked_at, self.back_at)


def by_step(
    visits: Iterable[TicketTimes], period: Period, moment: Callable[[TicketTimes], dt.datetime | dt.date | None]
) -> dict[str, list[TicketTimes]]:
    """The visits whose moment is in the period, by the key of its step."""
    found: dict[str, list[TicketTimes]] = defaultdict(list)
    for visit in visits:
        day = moment(visit)
        if isinstance(day, dt.datetime):
            day = day.date()
        if day is not None and day in period:
            found[period.step_key(day)].append(visit)
    return found


def visits_together(groups: Mapping[str, Sequence[TicketTimes]]) -> list[TicketTimes]:
    """All of the groups in one list."""
    return [visit for group in groups.values() for visit in group]


def _days(start: dt.datetime, end: dt.datetime) -> float:
    return (end - start).total_seconds() / SECONDS_A_DAY
