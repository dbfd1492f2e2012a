"""How many ride hours a part lasted, or has lasted so far: its lives, out of a unit's history. No Django.

A life begins on the day on which the part was made new and ends when a finding says that it is bad: it was found bad.
When it became bad nobody saw: it was after the last check that would have found it, and found it good, or after it was
made new, and before this one. So the life is known between two figures only (interval-censored). Where it was the
cause of a complaint the rider is taken to have come within NOTICED_WITHIN of it, as one who does not come is taken to
ride a good part. A part that was made new again before, or is still in use, was still good after so many hours; what
came later is not known, and the life is censored on the right. A part in use counts as still good until today, but no
longer than HEARD_OF_LASTS after the shop last heard of the unit. A life is left out where the riding of more than
MOST_UNKNOWN of its days is not known. These limits are this project's own, no published source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from workshop.intervals.ridden import HoursKnown, RideHistory

HEARD_OF_LASTS = dt.timedelta(days=365)
NOTICED_WITHIN = dt.timedelta(days=30)
MOST_UNKNOWN = 0.1


@dataclass(frozen=True)
class Renewal:
    """That the part was made new: the day the unit went back, the day it had come in, the ticket if it was here."""

    on: dt.date
    came_in: dt.date
    ticket: int | None


@dataclass(frozen=True)
class FoundBad:
    """That the part was found bad on a ticket, whose unit came in on that day.

    `noticed`: it was the cause of what the rider complained of.
    """

    came_in: dt.date
    ticket: int
    noticed: bool = False


@dataclass(frozen=True)
class SeenGood:
    """That a check on a ticket, whose unit came in on that day, would have found the part bad and did not."""

    came_in: dt.date
    ticket: int


@dataclass(frozen=True)
class Life:
    """Ride hours of one part of one unit. `ticket` found it bad, or began the life of one that is still good.

    One found bad became so between `good_until_hours` and `hours`; one still good was so for `hours` at least.
    """

    hours: float
    found_bad: bool
    ticket: int | None
    good_until_hours: float = 0.0
    unit: int = 0


@dataclass(frozen=True)
class Lives:
    """The lives of one component over all units, and how many were left out."""

    lives: Sequence[Life] = ()
    left_out: int = 0

    @property
    def events(self) -> list[Life]:
        return [life for life in self.lives if life.found_bad]

    @property
    def still_good(self) -> list[Life]:
        return [life for life in self.lives if not life.found_bad]


@dataclass(frozen=True)
class PartHistory:
    """What happened to one part of one unit."""

    renewed: Sequence[Renewal]
    found_bad: Sequence[FoundBad]
    riding: RideHistory
    heard_of: dt.date
    seen_good: Sequence[SeenGood] = ()
    unit: int = 0


def lives_of(parts: Iterable[PartHistory], today: dt.date, *, begun_by: dt.date = dt.date.max) -> Lives:
    """The lives of one component that began by a day, of every unit that has one."""
    lives: list[Life] = []
    left_out = 0
    for part in parts:
        for start, end, bad, ticket in _spans(part, today):
            if start > begun_by:
                continue
            hours = _hours_known(part.riding, start, end)
            if hours is None or hours <= 0:
                left_out += end > start
            else:
                good_until = _good_until_hours(part, start, bad) if bad else 0.0
                lives.append(Life(hours, bad is not None, ticket, min(good_until, hours), part.unit))
    return Lives(lives, left_out)


def _spans(part: PartHistory, today: dt.date) -> Iterable[tuple[dt.date, dt.date, FoundBad | None, int | None]]:
    renewals = sorted(part.renewed, key=lambda one: one.on)
    findings = sorted(part.found_bad, key=lambda one: one.came_in)
    for place, renewal in enumerate(renewals):
        following = renewals[place + 1] if place + 1 < len(renewals) else None
        bad = next(
            (
                finding
                for finding in findings
                if finding.ticket != renewal.ticket
                and finding.came_in >= renewal.on
                and (following is None or finding.came_in <= following.on)
            ),
            None,
        )
        if bad is not None:
            yield renewal.on, bad.came_in, bad, bad.ticket
        elif following is not None:
            yield renewal.on, following.came_in, None, renewal.ticket
        else:
            yield renewal.on, min(today, part.heard_of + HEARD_OF_LASTS), None, renewal.ticket


def _good_until_hours(part: PartHistory, start: dt.date, bad: FoundBad) -> float:
    """Ride hours when it was last known to be good; nought where that was when it was new, or nobody knows them."""
    began_by = {renewal.ticket for renewal in part.renewed if renewal.on == start}
    days = [seen.came_in for seen in part.seen_good if seen.ticket not in {bad.ticket, *began_by}]
    days += [bad.came_in - NOTICED_WITHIN] if bad.noticed else []
    days = [day for day in days if start < day < bad.came_in]
    return (_hours_known(part.riding, start, max(days)) or 0.0) if days else 0.0


def _hours_known(riding: RideHistory, start: dt.date, end: dt.date) -> float | None:
    """Ride hours between two days; None where too little of them is known."""
    stretches = riding.stretches(start, end)
    if not stretches:
        return None
    unknown = sum((stretch.end - stretch.start).days for stretch in stretches if stretch.known is HoursKnown.NOTHING)
    if unknown > MOST_UNKNOWN * (end - start).days:
        return None
    return sum(stretch.hours for stretch in stretches)
