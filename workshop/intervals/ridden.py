"""How much a unit was ridden between two days, from everything that is known of it. No Django.

What counts, stretch by stretch:
1. between two readings of the rider's hour counter, their difference, spread evenly;
2. else, in a week (Monday to Sunday) in which rides were sent, the moving time of those rides;
3. else, after a reading of the counter, riding goes on as it was measured; what was said since is weighed with it;
4. else the weekly figure that somebody said, from the day on which it was said to hold;
5. else nothing: what is not known is not guessed.

How much is ridden at present is the mean of what is known, weighed by how recent it is (half as much for each 45 days)
and how sure (a ride sent is half as sure as a counter, for others may not have been sent; a figure that was said as
sure as two weeks of rides). What was said before a reading of the counter says nothing any more. These weights are
this project's own, no published source. Where a unit changed hands, nothing that is known of one owner's riding counts
for the other's.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

_DAY = dt.timedelta(days=1)
_WEEK = dt.timedelta(days=7)
LEAST_MEASURED_DAYS = 14
HALF_AS_MUCH_AFTER_DAYS = 45
RIDES_ARE_SURE = 0.5  # where the counter is 1


class HoursKnown(StrEnum):
    """Where hours are from."""

    COUNTER = "counter"
    RIDES = "rides"
    CARRIED_ON = "carried_on"
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
    known: HoursKnown
    conditions: str = "dry"

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
        figure = self.figure_on(start)
        conditions = figure.conditions if figure else "dry"
        measured = self._counter_rate(start)
        if measured is not None:
            return RiddenStretch(start, end, measured, HoursKnown.COUNTER, conditions)
        if self._rides_tell(start):
            hours = sum(ride.hours for ride in self.rides_in(start, end))
            return RiddenStretch(start, end, hours / (end - start).days, HoursKnown.RIDES, conditions)
        if figure is None:
            return RiddenStretch(start, end, 0.0, HoursKnown.NOTHING)
        if self._counted_before(start):
            return RiddenStretch(start, end, self.going_on(start) or 0.0, HoursKnown.CARRIED_ON, conditions)
        return RiddenStretch(start, end, figure.hours_per_week / 7, HoursKnown.WEEKLY, conditions)

    def going_on(self, day: dt.date) -> float | None:
        """Hours a day at which riding goes on from a day, of all that is known before it; None where nobody knows."""
        figure, counted = self.figure_on(day), self._counted_before(day)
        told = None if figure is None else figure.hours_per_week / 7
        weighed = [(rate, _recent(start, end, day)) for start, end, rate in counted]
        ridden = list(self._ridden_before(day, told or 0.0))
        weighed += [(rate, RIDES_ARE_SURE * _recent(start, end, day)) for start, end, rate in ridden]
        missing = LEAST_MEASURED_DAYS - sum((end - start).days for start, end, _ in ridden)
        news = figure is not None and all(end < figure.since for _, end, _ in counted)
        if ridden and not counted and missing > 0:
            days = LEAST_MEASURED_DAYS - missing
            weighed.append((told or 0.0, sum(weight for _, weight in weighed) * missing / days))
        elif weighed and figure is not None and told is not None and news:
            fortnight = _recent(figure.since - LEAST_MEASURED_DAYS * _DAY, figure.since, day)
            weighed.append((told, RIDES_ARE_SURE * fortnight))
        total = sum(weight for _, weight in weighed)
        return sum(rate * weight for rate, weight in weighed) / total if total else told

    def _counted_before(self, day: dt.date) -> list[tuple[dt.date, dt.date, float]]:
        """What the counter says of the riding of a day's owner up to that day: from, to, hours a day."""
        owned = self.owned_since(day)
        return [
            (before.on, after.on, (after.hours - before.hours) / (after.on - before.on).days)
            for before, after in pairwise(self.counter)
            if owned <= before.on and after.on <= day and after.hours >= before.hours
        ]

    def _ridden_before(self, day: dt.date, quiet: float) -> Iterator[tuple[dt.date, dt.date, float]]:
        """Weeks in which a day's owner sent rides, and `quiet` hours a day in those between; none that was counted."""
        owned = self.owned_since(day)
        mondays = sorted(
            monday for monday in self._ride_weeks if self.rides_in(max(monday, owned), min(monday + _WEEK, day))
        )
        monday = mondays[0] if mondays else day
        while mondays and monday <= mondays[-1]:
            start, end = max(monday, owned), min(monday + _WEEK, day)
            if self._counter_rate(start) is None:
                rides = self.rides_in(start, end)
                yield start, end, sum(ride.hours for ride in rides) / (end - start).days if rides else quiet
            monday += _WEEK

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
    """How much is ridden a day at present; None where nobody knows."""
    return history.going_on(today)


def tells_more_tomorrow(history: RideHistory, today: dt.date) -> bool:
    """Whether a day that goes by may change what this history foretells, without a new entry.

    It may in a week with rides, where an entry is of a day to come, and where the days that go by count otherwise than
    the days to come were reckoned with.
    """
    entered = [figure.since for figure in history.weekly] + [value.on for value in history.counter]
    if any(day > today for day in [*entered, *history.changed_hands]):
        return True
    if history.rides and history.rides[-1].day >= _monday(today):
        return True
    tomorrow = today + _DAY
    to_come = history.going_on(tomorrow)
    (gone,) = history.stretches(tomorrow, tomorrow + _DAY)
    return to_come is not None and not math.isclose(to_come, gone.hours_per_day, abs_tol=1e-9)


def _recent(start: dt.date, end: dt.date, day: dt.date) -> float:
    """The weight of the days from `start` up to `end` as seen from a day: each half as much for every 45 days gone."""
    return float(
        0.5 ** ((day - end).days / HALF_AS_MUCH_AFTER_DAYS) - 0.5 ** ((day - start).days / HALF_AS_MUCH_AFTER_DAYS)
    )


def _monday(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())
