"""Days by the shop's clock as moments, so that a column of moments is asked for a range, which an index can answer."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

# No record is older or younger; further out, a day has no moment in every time zone.
EARLIEST, LATEST = dt.date(1900, 1, 1), dt.date(9998, 12, 31)


def start_of(day: dt.date) -> dt.datetime:
    """The first moment of a day; of one before or after all records, of the first or last that may have some."""
    day = min(max(day, EARLIEST), LATEST)
    return dt.datetime.combine(day, dt.time(), tzinfo=timezone.get_current_timezone())


def end_of(day: dt.date) -> dt.datetime:
    """The first moment after a day."""
    return start_of(min(day, LATEST) + dt.timedelta(days=1))
