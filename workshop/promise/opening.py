"""When the counter is open: read as people type it, kept, and said in a sentence."""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext

from workshop.promise.capacity import capacity_of
from workshop.promise.closed import closed_days
from workshop.promise.models import WEEKDAYS, OpeningHours
from workshop.staff.models import Shop

_TIME = r"(\d{1,2})(?:[:.](\d{2}))?"
_SPAN = re.compile(rf"{_TIME}\s*(?:-|–|to)\s*{_TIME}")
_DAYS_AHEAD = 21
MOST_SPANS = 3


class HoursRefused(ValueError):
    """What was typed as the hours of a day cannot be read; the message says what to type."""


@dataclass(frozen=True)
class OpenSpan:
    """From when to when the door is open."""

    opens: dt.time
    closes: dt.time

    def __str__(self) -> str:
        return gettext("%(opens)s to %(closes)s") % {"opens": _clock(self.opens), "closes": _clock(self.closes)}


@dataclass(frozen=True)
class Opening:
    """The spans of each weekday, 0 for Monday, and the days on which the shop is closed all the same."""

    week: Mapping[int, Sequence[OpenSpan]] = field(default_factory=dict)
    closed_days: frozenset[dt.date] = frozenset()

    def on(self, day: dt.date) -> Sequence[OpenSpan]:
        """When it is open on a day; nothing on one that is closed."""
        return () if day in self.closed_days else self.week.get(day.weekday(), ())


def read_spans(text: str) -> tuple[OpenSpan, ...]:
    """The spans in “9:00-12:30, 14-18”; none in an empty text. Raises HoursRefused."""
    spans: list[OpenSpan] = []
    for part in filter(None, (piece.strip() for piece in re.split(r"[,;]", text))):
        found = _SPAN.fullmatch(part)
        if found is None:
            raise HoursRefused("Enter hours as 9:00-18:00, or 9:00-12:30, 14:00-18:00. Leave it empty where closed.")
        opens, closes = _time(*found.groups()[:2]), _time(*found.groups()[2:])
        if closes <= opens:
            raise HoursRefused(f"It cannot close at {_clock(closes)} when it opens at {_clock(opens)}.")
        if spans and opens < spans[-1].closes:
            raise HoursRefused("One span begins before the one in front of it ends.")
        spans.append(OpenSpan(opens, closes))
    if len(spans) > MOST_SPANS:
        raise HoursRefused(f"Enter {MOST_SPANS} spans a day at most.")
    return tuple(spans)


def typed_spans(spans: Sequence[OpenSpan]) -> str:
    """The spans as they are typed: 9:00-12:30, 14:00-18:00."""
    return ", ".join(f"{_clock(span.opens)}-{_clock(span.closes)}" for span in spans)


def opening_words(opening: Opening, now: dt.datetime) -> str:
    """One sentence on when it can be collected, by the shop's own hours; "" where nobody entered any.

    `now` is in the shop's time zone. What is over for today is not said.
    """
    today = now.date()
    left = [span for span in opening.on(today) if span.closes > now.time()]
    if left and left[0].opens <= now.time():
        closes = _clock(left[0].closes)
        if not left[1:]:
            return gettext("We are open till %(time)s today.") % {"time": closes}
        later = _one_after_the_other(left[1:])
        return gettext("We are open till %(time)s today, then %(hours)s.") % {"time": closes, "hours": later}
    if left:
        return gettext("We are open %(hours)s today.") % {"hours": _and(left)}
    for ahead in range(1, _DAYS_AHEAD + 1):
        day = today + dt.timedelta(days=ahead)
        if spans := opening.on(day):
            values = {"day": date_format(day, "l j F"), "hours": _and(spans)}
            return gettext("We are open again on %(day)s, %(hours)s.") % values
    return ""


def week_words(week: Mapping[int, Sequence[OpenSpan]]) -> str:
    """The hours of a week: “Monday to Friday 9:00 to 18:00, Saturday 9:00 to 13:00”; "" where nobody entered any."""
    runs: list[tuple[int, int, str]] = []
    for weekday, _ in WEEKDAYS:
        hours = _and(week.get(weekday, ()))
        if runs and runs[-1][1:] == (weekday - 1, hours):
            runs[-1] = (runs[-1][0], weekday, hours)
        elif hours:
            runs.append((weekday, weekday, hours))
    names = {weekday: gettext(name) for weekday, name in WEEKDAYS}
    return ", ".join(
        gettext("%(day)s %(hours)s") % {"day": names[first], "hours": hours}
        if first == last
        else gettext("%(first)s to %(last)s %(hours)s") % {"first": names[first], "last": names[last], "hours": hours}
        for first, last, hours in runs
    )


def _and(spans: Sequence[OpenSpan]) -> str:
    """“9:00 to 12:30 and 14:00 to 18:00”."""
    return _joined(spans, gettext("%(earlier)s and %(later)s"))


def _one_after_the_other(spans: Sequence[OpenSpan]) -> str:
    """“14:00 to 18:00, then 19:00 to 20:00”."""
    return _joined(spans, gettext("%(earlier)s, then %(later)s"))


def _joined(spans: Sequence[OpenSpan], two: str) -> str:
    words = [str(span) for span in spans]
    return functools.reduce(lambda earlier, later: two % {"earlier": earlier, "later": later}, words) if words else ""


def opening_of(shop: Shop, today: dt.date) -> Opening:
    """The hours the owner entered, with the days that are closed from today on; three queries."""
    week: dict[int, list[OpenSpan]] = defaultdict(list)
    for row in OpeningHours.objects.filter(shop=shop):
        week[row.weekday].append(OpenSpan(row.opens, row.closes))
    return Opening(week, closed_days(capacity_of(shop), today) if week else frozenset())


@transaction.atomic
def set_opening(*, shop: Shop, week: Mapping[int, Sequence[OpenSpan]]) -> None:
    """Replace the hours of the week by these."""
    OpeningHours.objects.filter(shop=shop).delete()
    OpeningHours.objects.bulk_create(
        OpeningHours(shop=shop, weekday=weekday, opens=span.opens, closes=span.closes)
        for weekday, _ in WEEKDAYS
        for span in week.get(weekday, ())
    )


def _time(hour: str, minute: str | None) -> dt.time:
    try:
        return dt.time(int(hour), int(minute or 0))
    except ValueError:
        raise HoursRefused(f"There is no {hour}:{minute or '00'} on a clock.") from None


def _clock(time: dt.time) -> str:
    return f"{time.hour}:{time.minute:02d}"
