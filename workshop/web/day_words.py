"""Days and moments as people read them, in three ways, each with the year where it is not this one.

With its weekday where somebody is to come or to be done by then (“Sat 5 Dec”), short in lists and histories (“5 Dec”),
in full at the head of a page and for customers (“Saturday 5 December”). Papers have the year always: they are read
long after.
"""

from __future__ import annotations

import datetime as dt
import re

from django.utils.formats import date_format
from django.utils.timezone import is_aware, localdate, localtime

WITH_WEEKDAY, SHORT, IN_FULL = "D j M", "j M", "l j F"
_MONTH = re.compile("[MF]")


def day_written(value: dt.date, how: str, *, today: dt.date | None = None) -> str:
    """A day or moment as Django's `date` writes it, by the shop's clock, with its year behind the month if it has to.

    Args:
        how: one of the ways above, or with a time behind it (“j M, H:i”).
        today: the day it is; else by the shop's clock.
    """
    here = localtime(value) if isinstance(value, dt.datetime) and is_aware(value) else value
    if here.year != (today or localdate()).year:
        how = _MONTH.sub(lambda month: f"{month[0]} Y", how, count=1)
    return str(date_format(here, how))


def day_in_words(day: dt.date, today: dt.date | None = None) -> str:
    """A day with its weekday, in a sentence: “Sat 5 Dec”, “Mon 4 Jan 2027”."""
    return day_written(day, WITH_WEEKDAY, today=today)


def short_day(day: dt.date, today: dt.date | None = None) -> str:
    """A day that is over or far off, in a sentence: “5 Dec”, “4 Jan 2027”."""
    return day_written(day, SHORT, today=today)
