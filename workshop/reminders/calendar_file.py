"""The calendar entry that goes with a reminder, as an iCalendar file (RFC 5545). No Django."""

from __future__ import annotations

import datetime as dt

from icalendar import Alarm, Calendar, Event

PRODUCT = "-//suspension-workshop//reminder//EN"


def calendar_entry(
    *,
    uid: str,
    on: dt.date,
    summary: str,
    description: str,
    location: str,
    made_at: dt.datetime,
    days_before: int = 7,
) -> str:
    """A file with one all-day entry that blocks no time and rings `days_before` days earlier.

    Args:
        uid: names the entry for ever; the same entry sent again replaces itself.
        made_at: aware; written in UTC as DTSTAMP.
    """
    file = Calendar()
    file.add("prodid", PRODUCT)
    file.add("version", "2.0")
    file.add("method", "PUBLISH")
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", made_at.astimezone(dt.UTC).replace(microsecond=0))
    event.add("dtstart", on)
    event.add("dtend", on + dt.timedelta(days=1))
    event.add("summary", summary)
    event.add("description", description)
    if location:
        event.add("location", location)
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", summary)
    alarm.add("trigger", dt.timedelta(days=-days_before))
    event.add_component(alarm)
    file.add_component(event)
    return str(file.to_ical().decode())
