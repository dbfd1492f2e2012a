"""Whether the machine's clock can be right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.utils import timezone

from diagnosis.models import Tick
from workshop.issued.models import Document
from workshop.running.preflight.findings import Purpose, StartFinding
from workshop.running.version import NO_EARLIER_THAN
from workshop.tickets.models import TicketEvent

SUBJECT = "Clock"
SLACK = dt.timedelta(minutes=10)  # between a tablet's clock, by which a tick may be dated, and this one
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


def newest_entry() -> dt.datetime | None:
    """Of the last line of a logbook, tick and document, by their keys: three short queries."""
    lasts = [
        TicketEvent.objects.order_by("-pk").values_list("at", flat=True).first(),
        Tick.objects.order_by("-pk").values_list("received_at", flat=True).first(),
        Document.objects.order_by("-pk").values_list("issued_at", flat=True).first(),
    ]
    return max((when for when in lasts if when is not None), default=None)
