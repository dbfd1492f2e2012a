"""Whether the machine's clock can be right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils import timezone

from diagnosis.models import Tick
from workshop.issued.models import Document
from workshop.running.preflight.findings import Purpose, StartFinding
from workshop.running.version import NO_EARLIER_THAN
from workshop.tickets.models import TicketEvent

SUBJECT = "Clock"
SLACK = dt.timedelta(minutes=10)  # between a tablet's clock, by which a tick may be dated, and this one
MOST_APART = dt.timedelta(seconds=30)  # beyond what a time server leaves, and below what anybody would notice
SET_IT = "Set the clock of this machine, and let it be kept by a time server."


def clock_before_code(purpose: Purpose) -> Iterator[StartFinding]:
    """No right clock shows a day before this version was made."""
    now = timezone.now()
    if now.date() < NO_EARLIER_THAN:
        yield StartFinding(SUBJECT, f"It says {now:%-d %B %Y}, and this version was made later. It is slow.", SET_IT)


def clock_before_rows(purpose: Purpose) -> Iterator[StartFinding]:
    """Entries of the shop that are later than now: the clock is slow, or was fast when they were made."""
    now, newest = timezone.now(), newest_entry()
    if newest is not None and newest > now + SLACK:
        yield StartFinding(
            SUBJECT,
            f"It says {now:%-d %B %Y, %H:%M} UTC, and the shop’s newest entry is of {newest:%-d %B %Y, %H:%M}: "
            "it is slow now, or was fast then.",
            f"{SET_IT} Entries of a wrong hour stay as they are, in the order in which they were made.",
        )


def clock_beside_database(purpose: Purpose) -> Iterator[StartFinding]:
    """This machine's clock beside that of its PostgreSQL, which all machines of a group can be held against."""
    wrapper = connections["default"]
    if wrapper.vendor != "postgresql":
        return  # a file has no clock
    apart = ahead_of_database(wrapper)
    if abs(apart) > MOST_APART:
        way = "ahead of" if apart > dt.timedelta(0) else "behind"
        yield StartFinding(
            SUBJECT,
            f"It is {_in_words(abs(apart))} {way} that of the database’s machine. Machines of one shop that differ so "
            "take different days for today around midnight, and end sessions and waits at different times.",
            f"{SET_IT} If this one is right, do so on the database’s machine.",
        )


def ahead_of_database(wrapper: BaseDatabaseWrapper) -> dt.timedelta:
    """By how much this clock is ahead at least, below zero behind; nothing within the time that asking took."""
    before = timezone.now()
    with wrapper.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        there: dt.datetime = cursor.fetchone()[0]
    after = timezone.now()
    if there < before:
        return before - there
    return after - there if there > after else dt.timedelta(0)


def _in_words(time: dt.timedelta) -> str:
    seconds = time.total_seconds()
    if seconds < 120:
        return f"{seconds:.0f} seconds"
    return f"{seconds / 60:.0f} minutes" if seconds < 2 * 3600 else f"{seconds / 3600:.0f} hours"


def newest_entry() -> dt.datetime | None:
    """Of the last line of a logbook, tick and document, by their keys: three short queries."""
    lasts = [
        TicketEvent.objects.order_by("-pk").values_list("at", flat=True).first(),
        Tick.objects.order_by("-pk").values_list("received_at", flat=True).first(),
        Document.objects.order_by("-pk").values_list("issued_at", flat=True).first(),
    ]
    return max((when for when in lasts if when is not None), default=None)
