"""Days by the shop's clock as moments, so that a column of moments is asked for a range, which an index can answer."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone


def start_of(day: dt.date) -> dt.datetime:
    """The first moment of a day."""
    return dt.datetime.combine(day, dt.time(), tzinfo=timezone.get_current_timezone())


def end_of(day: dt.date) -> dt.datetime:
    """The first moment after a day."""
    return start_of(day + dt.timedelta(days=1))
