"""The calendar file of a reminder, read back by the icalendar library and held against RFC 5545."""

from __future__ import annotations

import datetime as dt
from typing import Any

from icalendar import Calendar

from workshop.reminders.calendar_file import calendar_entry

MADE_AT = dt.datetime(2026, 5, 1, 12, 30, 15, 250_000, tzinfo=dt.timezone(dt.timedelta(hours=2)))


def entry(**changes: str) -> str:
    words: dict[str, Any] = {
        "uid": "5d1c@mill-yard.example",
        "summary": "Lowers service: Kestrigan Plume, 2021–",
        "description": "Call us; or write.\nA back\\slash, and a very long line " + "ä" * 120,
        "location": "Mill Yard Suspension, 3 Mill Yard",
        **changes,
    }
    return calendar_entry(on=dt.date(2026, 6, 3), made_at=MADE_AT, **words)


def test_reads_back_as_it_was_meant() -> None:
    calendar = Calendar.from_ical(entry())
    (event,) = calendar.walk("VEVENT")
    assert calendar["VERSION"] == "2.0"
    assert event["UID"] == "5d1c@mill-yard.example"
    assert event.decoded("DTSTART") == dt.date(2026, 6, 3)
    assert event.decoded("DTEND") == dt.date(2026, 6, 4)  # exclusive, RFC 5545 section 3.6.1
    assert event.decoded("DTSTAMP") == dt.datetime(2026, 5, 1, 10, 30, 15, tzinfo=dt.UTC)
    assert str(event["SUMMARY"]) == "Lowers service: Kestrigan Plume, 2021–"
    assert str(event["DESCRIPTION"]).startswith("Call us; or write.\nA back\\slash, and")
    (alarm,) = calendar.walk("VALARM")
    assert alarm.decoded("TRIGGER") == dt.timedelta(days=-7)
    assert alarm["ACTION"] == "DISPLAY"


def test_has_what_the_standard_asks_for() -> None:
    """RFC 5545: PRODID and VERSION once (3.6), UID and DTSTAMP in the event (3.6.1), TRIGGER in the alarm (3.6.6)."""
    lines = entry().replace("\r\n ", "").split("\r\n")
    for name in ("PRODID", "VERSION", "METHOD", "UID", "DTSTAMP", "DTSTART", "TRIGGER"):
        assert sum(line.startswith((f"{name}:", f"{name};")) for line in lines) == 1
    assert "DTSTART;VALUE=DATE:20260603" in lines
    assert "DTSTAMP:20260501T103015Z" in lines
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-2:] == ["END:VCALENDAR", ""]


def test_lines_end_in_crlf_and_are_folded_at_75_octets() -> None:
    """RFC 5545 section 3.1."""
    file = entry().encode()
    assert b"\n" not in file.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in file.split(b"\r\n"))


def test_text_cannot_add_a_line() -> None:
    """RFC 5545 section 3.3.11: a line break in a text is written as backslash n."""
    (event,) = Calendar.from_ical(entry(summary="Service\r\nATTENDEE:mailto:else@example.org")).walk("VEVENT")
    assert "ATTENDEE" not in event


def test_without_a_place_there_is_no_location() -> None:
    assert "LOCATION" not in entry(location="")
