"""How much a unit was ridden between two days, from everything that is known of it. No Django.

What counts, stretch by stretch:
1. between two readings of the rider's hour counter, their difference, spread evenly;
2. else, in a week (Monday to Sunday) in which rides were sent, the moving time of those rides;
3. else the weekly figure that somebody said, from the day on which it was said to hold;
4. else nothing: what is not known is not guessed.
Where a unit changed hands, nothing that is known of one owner's riding counts for the other's.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

_DAY = dt.timedelta(days=1)
_WEEK = dt.timedelta(days=7)
MEASURED_OVER_DAYS = 90
LEAST_MEASURED_DAYS = 14


class Known(StrEnum):
    """Where hours are from."""

    COUNTER = "counter"
    RIDES = "rides"
    WEEKLY = "weekly"
    NOTHING = "nothing"


@dataclass(frozen=True)
class WeeklyFigure:
    """Hours a week said to hold from a day on, until the next figure."""

    since: dt.date
    hours_per_week: float
    by_customer: bool = True
    conditions: str = "dry"


@dataclass(frozen=True)
class RideHours:
    """One ride: its day and its moving time in hours."""

    day: dt.date
    hours: float


@dataclass(frozen=True)
class CounterValue:
    """The rider's own hour counter on a day."""

    on: dt.date
    hours: float


@dataclass(frozen=True)
class RiddenStretch:
    """Days from `start` up to, not including, `end`, ridden evenly."""

    start: dt.date
    end: dt.date
    hours_per_day: float
    known: Known

    @property
    def hours(self) -> float:
        return self.hours_per_day * (self.end - self.start).days


@dataclass(frozen=True)
class RideHistory:
    """All that is known of the riding of one unit; each tuple in the order of its days."""

    weekly: tuple[WeeklyFigure, ...] = ()
    rides: tuple[RideHours, ...] = ()
    counter: tuple[CounterValue, ...] = ()
    changed_hands: tuple[dt.date, ...] = ()
    _ride_days: tuple[dt.date, ...] = field(init=False, repr=False)
    _ride_weeks: frozenset[dt.date] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        for name, days in (
            ("weekly", [figure.since for figure in self.weekly]),
            ("rides", [ride.day for ride in self.rides]),
            ("counter", [value.on for value in self.counter]),
            ("changed_hands", list(self.changed_hands)),
        ):
            if days != sorted(days):
                raise ValueError(f"{name} must be in the order of its days")
        object.__setattr__(self, "_ride_days", tuple(ride.day for ride in self.rides))
        object.__setattr__(self, "_ride_weeks", frozenset(_monday(ride.day) for ride in self.rides))

    @property
    def is_empty(self) -> bool:
        return not (self.weekly or self.rides or len(self.counter) > 1)

    def figure_on(self, day: dt.date) -> WeeklyFigure | None:
        """The weekly figure that holds on a day: the latest before it that the owner of that day gave."""
        place = bisect_right([figure.since for figure in self.weekly], day)
        figure = self.weekly[place - 1] if place else None
        return None if figure is None or figure.since < self.owned_since(day) else figure

    def owned_since(self, day: dt.date) -> dt.date:
        """From when the owner of a day has had it; the earliest day there is where nobody else did."""
        place = bisect_right(self.changed_hands, day)
        return self.changed_hands[place - 1] if place else dt.date.min

    def rides_in(self, start: dt.date, end: dt.date) -> tuple[RideHours, ...]:
        """Rides from `start` up to, not including, `end`."""
        return self.rides[bisect_left(self._ride_days, start) : bisect_left(self._ride_days, end)]

    def stretches(self, start: dt.date, end: dt.date) -> tuple[RiddenStretch, ...]:
        """The riding from `start` up to `end`, without gaps; empty where `end` is not after `start`."""
        if end <= start:
            return ()
        return tuple(self._stretches(start, end))

    def _stretches(self, start: dt.date, end: dt.date) -> Iterator[RiddenStretch]:
        cuts = {start, end}
        cuts.update(figure.since for figure in self.weekly)
        cuts.update(value.on for value in self.counter)
        cuts.update(self.changed_hands)
        for monday in self._ride_weeks:
            cuts.update((monday, monday + _WEEK))
        days = sorted(day for day in cuts if start <= day <= end)
        for first, last in pairwise(days):
            yield self._stretch(first, last)

    def _stretch(self, start: dt.date, end: dt.date) -> RiddenStretch:
        measured = self._counter_rate(start)
        if measured is not None:
            return RiddenStretch(start, end, measured, Known.COUNTER)
        if self._rides_tell(start):
            hours = sum(ride.hours for ride in self.rides_in(start, end))
            return RiddenStretch(start, end, hours / (end - start).days, Known.RIDES)
        figure = self.figure_on(start)
        if figure is None:
            return RiddenStretch(start, end, 0.0, Known.NOTHING)
        return RiddenStretch(start, end, figure.hours_per_week / 7, Known.WEEKLY)

    def _rides_tell(self, day: dt.date) -> bool:
        """Whether rides were sent in the week of a day, by its owner."""
        monday = _monday(day)
        if monday not in self._ride_weeks:
            return False
        place = bisect_right(self.changed_hands, day)
        until = self.changed_hands[place] if place < len(self.changed_hands) else dt.date.max
        return bool(self.rides_in(max(monday, self.owned_since(day)), min(monday + _WEEK, until)))

    def _counter_rate(self, day: dt.date) -> float | None:
        """Hours a day between the two readings around a day. A counter that ran backwards was set anew: not used."""
        place = bisect_right([value.on for value in self.counter], day)
        if place == 0 or place == len(self.counter):
            return None
        before, after = self.counter[place - 1], self.counter[place]
        if after.hours < before.hours or self.owned_since(after.on - _DAY) > before.on:
            return None
        return (after.hours - before.hours) / (after.on - before.on).days


def hours_per_day_now(history: RideHistory, today: dt.date) -> float | None:
    """How much is ridden a day at present: what is said, else what was measured lately. None where nobody knows."""
    figure = history.figure_on(today)
    if figure is not None:
        return figure.hours_per_week / 7
    lately = history.stretches(max(today - MEASURED_OVER_DAYS * _DAY, history.owned_since(today)), today)
    known_from = next((stretch.start for stretch in lately if stretch.known != Known.NOTHING), None)
    if known_from is None:
        return None
    days = max((today - known_from).days, LEAST_MEASURED_DAYS)
    return sum(stretch.hours for stretch in lately) / days


def tells_more_tomorrow(history: RideHistory, today: dt.date) -> bool:
    """Whether a day that goes by may change what this history foretells, without a new entry.

    It may where riding was measured in the last weeks and no weekly figure holds, in a week with rides, and where an
    entry is of a day to come. Under a weekly figure riding goes on as it was foretold.
    """
    entered = [figure.since for figure in history.weekly] + [value.on for value in history.counter]
    if any(day > today for day in [*entered, *history.changed_hands]):
        return True
    if history.rides and history.rides[-1].day >= _monday(today):
        return True
    return history.figure_on(today) is None and hours_per_day_now(history, today + _DAY) is not None


def _monday(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())
