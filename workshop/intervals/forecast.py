"""When a service is due: a date with a range, and the reason on one line. No Django.

An interval has ride hours and months, whichever comes first. Ride hours that were only said may be off by a share,
and so may the riding to come; that share makes the range. Months have none. Wet or dusty riding shortens the hours: an
hour of it wears as the owner's figure says, from the day on which it was said to be so.
"""

from __future__ import annotations

import calendar
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from workshop.intervals.ridden import HoursKnown, RiddenStretch, RideHistory, hours_per_day_now
from workshop.web.counts import counted

FURTHEST_DAYS = 20 * 365
DUE_WITHIN_DAYS = 14


class ServiceStanding(StrEnum):
    """How urgent a service is; in the order of a list."""

    OVERDUE = "overdue"
    DUE = "due"
    COMING_UP = "coming_up"
    LATER = "later"


class DueBy(StrEnum):
    HOURS = "hours"
    MONTHS = "months"


@dataclass(frozen=True)
class Rule:
    """An interval of one level. `hours` are ride hours; None where the rule names none."""

    level: str
    hours: float | None
    months: int | None
    source: str
    is_own: bool = False
    is_checked: bool = True


@dataclass(frozen=True)
class Figures:
    """The owner's figures: what riding shortens the hours by, how far off a said figure may be, what is soon."""

    wet_factor: float = 0.75
    dusty_factor: float = 0.75
    said_hours_spread: float = 0.25
    coming_up_days: int = 42

    def factor(self, conditions: str) -> float:
        return {"wet": self.wet_factor, "dusty": self.dusty_factor}.get(conditions, 1.0)


@dataclass(frozen=True)
class Forecast:
    """When a service of a level is due: most likely, earliest and latest, and why in one line."""

    rule: Rule
    counted_from: dt.date
    after_service: bool
    hours_ridden: float
    hours_allowed: float | None
    due: dt.date
    earliest: dt.date
    latest: dt.date
    due_by: DueBy
    standing: ServiceStanding
    explanation: str

    @property
    def level(self) -> str:
        return self.rule.level

    @property
    def is_a_range(self) -> bool:
        return self.earliest != self.latest


def forecast(
    rule: Rule,
    history: RideHistory,
    *,
    counted_from: dt.date,
    after_service: bool,
    today: dt.date,
    figures: Figures,
) -> Forecast | None:
    """Forecast one level of one unit; None where neither hours nor months lead to a day.

    Args:
        counted_from: the day of the last service of this level or a larger one, else the day the unit was first seen.
        after_service: whether `counted_from` is the day of a service.
    """
    figure = history.figure_on(today)
    factor = figures.factor(figure.conditions) if figure else 1.0
    tomorrow = today + dt.timedelta(days=1)  # today's ride counts
    stretches = history.stretches(counted_from, tomorrow)
    by_months = None if rule.months is None else add_months(counted_from, rule.months)
    ridden = sum(stretch.hours for stretch in stretches)
    by_hours = allowed = None
    if rule.hours is not None:
        worn = sum(stretch.hours / figures.factor(stretch.conditions) for stretch in stretches)
        allowed = ridden + (rule.hours - worn) * factor
        to_come = (hours_per_day_now(history, tomorrow) or 0.0) / factor
        by_hours = _range_by_hours(stretches, to_come, rule.hours, max(counted_from, tomorrow), figures)
    chosen = _whichever_first(by_hours, by_months)
    if chosen is None:
        return None
    due_by, (earliest, due, latest) = chosen
    if due_by is DueBy.HOURS and rule.hours is not None and allowed is not None:
        words = _hours_words(rule.hours, allowed, figures, history, stretches, counted_from, today)
    else:
        words = _months_words(rule.months or 0, counted_from, today)
    if not after_service:
        words += "; no earlier service is known"
    return Forecast(
        rule=rule,
        counted_from=counted_from,
        after_service=after_service,
        hours_ridden=ridden,
        hours_allowed=allowed,
        due=due,
        earliest=earliest,
        latest=latest,
        due_by=due_by,
        standing=_standing(earliest, due, latest, today, figures),
        explanation=words,
    )


def next_change_of(forecast: Forecast, today: dt.date, figures: Figures) -> dt.date | None:
    """The first day after `today` on which this forecast stands otherwise, if its days stay what they are."""
    coming_up = forecast.due - dt.timedelta(days=figures.coming_up_days)
    due = min(forecast.earliest, forecast.due - dt.timedelta(days=DUE_WITHIN_DAYS))
    overdue = forecast.latest + dt.timedelta(days=1)
    return min((day for day in (coming_up, due, overdue) if day > today), default=None)


def add_months(day: dt.date, months: int) -> dt.date:
    """The same day so many months on; the last of the month where that month is shorter."""
    total = day.year * 12 + day.month - 1 + months
    year, month = total // 12, total % 12 + 1
    return dt.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def whole_months_between(start: dt.date, end: dt.date) -> int:
    """Whole months gone by from `start` to `end`."""
    months = (end.year - start.year) * 12 + end.month - start.month
    return months - 1 if add_months(start, months) > end else months


def day_words(day: dt.date, today: dt.date) -> str:
    """“3 June”, with the year where it is not this one."""
    words = f"{day.day} {day:%B}"
    return words if day.year == today.year else f"{words} {day.year}"


def hours_words(hours: float) -> str:
    """Whole hours from ten on, tenths below."""
    return f"{hours:.0f}" if hours >= 9.95 else f"{hours:.1f}".removesuffix(".0")


_ONLY_SAID = frozenset({HoursKnown.WEEKLY, HoursKnown.CARRIED_ON})
_Range = tuple[dt.date, dt.date, dt.date]


def _range_by_hours(
    stretches: Sequence[RiddenStretch],
    worn_a_day: float,
    allowed: float,
    from_now: dt.date,
    figures: Figures,
) -> _Range | None:
    spread = figures.said_hours_spread
    earliest, due, latest = (
        _day_reached(stretches, worn_a_day, allowed, from_now, scale, figures)
        for scale in (1 + spread, 1.0, 1 - spread)
    )
    if due is None:
        return None
    return earliest or due, due, latest or from_now + dt.timedelta(days=FURTHEST_DAYS)


def _day_reached(
    stretches: Sequence[RiddenStretch],
    worn_a_day: float,
    allowed: float,
    from_now: dt.date,
    scale: float,
    figures: Figures,
) -> dt.date | None:
    """The day on which `allowed` hours are worn off, if what was said and what is to come is off by `scale`."""
    left = allowed
    for stretch in stretches:
        per_day = stretch.hours_per_day / figures.factor(stretch.conditions)
        per_day *= scale if stretch.known in _ONLY_SAID else 1.0
        if per_day * (stretch.end - stretch.start).days >= left:
            return stretch.start + dt.timedelta(days=_whole_days(left / per_day))
        left -= per_day * (stretch.end - stretch.start).days
    to_come = worn_a_day * scale
    if to_come <= 0:
        return None
    days = left / to_come
    return None if days > FURTHEST_DAYS else from_now + dt.timedelta(days=_whole_days(days))


def _whole_days(days: float) -> int:
    """Days rounded up; a day that is full but for the last bit of a float is full."""
    return math.ceil(days - 1e-6)


def _whichever_first(by_hours: _Range | None, by_months: dt.date | None) -> tuple[DueBy, _Range] | None:
    if by_hours is None:
        return None if by_months is None else (DueBy.MONTHS, (by_months, by_months, by_months))
    if by_months is None:
        return DueBy.HOURS, by_hours
    earliest, due, latest = (min(day, by_months) for day in by_hours)
    return (DueBy.HOURS if by_hours[1] <= by_months else DueBy.MONTHS), (earliest, due, latest)


def _standing(earliest: dt.date, due: dt.date, latest: dt.date, today: dt.date, figures: Figures) -> ServiceStanding:
    """Overdue even if the rider rides little; due if it may be now or will be within two weeks; else coming up."""
    if today > latest:
        return ServiceStanding.OVERDUE
    if today >= earliest or (due - today).days <= DUE_WITHIN_DAYS:
        return ServiceStanding.DUE
    return ServiceStanding.COMING_UP if (due - today).days <= figures.coming_up_days else ServiceStanding.LATER


def _hours_words(
    rule_hours: float,
    allowed: float,
    figures: Figures,
    history: RideHistory,
    stretches: Sequence[RiddenStretch],
    start: dt.date,
    today: dt.date,
) -> str:
    ridden = hours_words(sum(stretch.hours for stretch in stretches))
    known = {stretch.known for stretch in stretches}
    grounds = []
    if HoursKnown.COUNTER in known:
        grounds.append("the readings of the hour counter")
    if HoursKnown.RIDES in known:
        count = len(history.rides_in(start, today + dt.timedelta(days=1)))
        grounds.append("one ride sent" if count == 1 else f"{count} rides sent")
    if HoursKnown.CARRIED_ON in known:
        grounds.append(_carried_words(history, today))
    elif HoursKnown.WEEKLY in known or not grounds:
        grounds.append(_weekly_words(history, start, today))
    shortened = _shortened_words(rule_hours, figures, history, stretches, today)
    return f"{ridden} of {round(allowed, 1):g} h{shortened} by {' and '.join(grounds)}"


def _shortened_words(
    rule_hours: float, figures: Figures, history: RideHistory, stretches: Sequence[RiddenStretch], today: dt.date
) -> str:
    """By what the hours are shortened: all of them by how it is ridden now, or those that were ridden so."""
    figure = history.figure_on(today)
    now = figure.conditions if figure else "dry"
    hard = {one.conditions for one in stretches if one.hours} | {now}
    shortening = sorted(one for one in hard if figures.factor(one) != 1.0)
    if not shortening:
        return ""
    if hard == {now}:
        return f" ({rule_hours:g} h × {figures.factor(now):g} for {now} riding)"
    each = " and ".join(f"× {figures.factor(one):g} for {one} riding" for one in shortening)
    return f" ({rule_hours:g} h, with {each} where it was)"


def _carried_words(history: RideHistory, today: dt.date) -> str:
    """How riding goes on since the counter was read last, and what was said of it."""
    figure = history.figure_on(today)
    going_on = f"{hours_words(7 * (hours_per_day_now(history, today) or 0))} h a week as measured"
    if figure is None:
        return going_on
    whose = "the customer’s" if figure.by_customer else "our estimate of"
    said = f"{whose} {hours_words(figure.hours_per_week)} h a week"
    weighed = any(value.on >= figure.since for value in history.counter)
    return f"{going_on}, which goes before {said}" if weighed else f"{going_on} and, since then, {said}"


def _weekly_words(history: RideHistory, start: dt.date, today: dt.date) -> str:
    figure = history.figure_on(today)
    if figure is None:
        return "what was measured lately"
    whose = "the customer’s" if figure.by_customer else "our estimate of"
    changed = [other for other in history.weekly if start < other.since < figure.since]
    since = day_words(start if changed else max(figure.since, start), today)
    before = " now, other figures before," if changed else ""
    return f"{whose} {hours_words(figure.hours_per_week)} h a week{before} since {since}"


def _months_words(months: int, start: dt.date, today: dt.date) -> str:
    gone = whole_months_between(start, today) if today > start else 0
    return f"{gone} of {counted(months, 'month')} since {day_words(start, today)}"
