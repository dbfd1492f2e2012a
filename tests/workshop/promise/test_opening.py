"""When the counter is open: as people type it, and in the sentence a customer reads."""

from __future__ import annotations

import datetime as dt

import pytest

from workshop.promise.opening import (
    HoursRefused,
    Opening,
    OpenSpan,
    opening_words,
    read_spans,
    typed_spans,
    week_words,
)

MONDAY = dt.date(2026, 3, 2)
NINE, SIX = dt.time(9), dt.time(18)
WHOLE_DAY = (OpenSpan(NINE, SIX),)
WITH_A_BREAK = (OpenSpan(NINE, dt.time(12, 30)), OpenSpan(dt.time(14), SIX))


def at(hour: int, minute: int = 0, day: dt.date = MONDAY) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(hour, minute))


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("", ()),
        ("9:00-18:00", WHOLE_DAY),
        ("9-18", WHOLE_DAY),
        ("9.00 – 18.00", WHOLE_DAY),
        ("9:00 to 12:30; 14-18", WITH_A_BREAK),
    ],
)
def test_hours_are_read_as_they_are_typed_and_back(typed: str, read: tuple[OpenSpan, ...]) -> None:
    assert read_spans(typed) == read
    assert read_spans(typed_spans(read)) == read


@pytest.mark.parametrize("typed", ["nine", "9:00", "18-9", "9-9", "25-26", "9:70-18", "9-12, 11-18", "1-2,3-4,5-6,7-8"])
def test_hours_that_cannot_be_are_refused(typed: str) -> None:
    with pytest.raises(HoursRefused):
        read_spans(typed)


@pytest.mark.parametrize(
    ("now", "said"),
    [
        (at(10), "We are open till 12:30 today, then 14:00 to 18:00."),
        (at(13), "We are open 14:00 to 18:00 today."),
        (at(8), "We are open 9:00 to 12:30 and 14:00 to 18:00 today."),
        (at(17, 59), "We are open till 18:00 today."),
        (at(18), "We are open again on Tuesday 3 March, 9:00 to 18:00."),
        (at(10, day=MONDAY + dt.timedelta(days=1)), "We are open till 18:00 today."),
        # Wednesday is closed besides its hours, and the rest of the week has none.
        (
            at(10, day=MONDAY + dt.timedelta(days=2)),
            "We are open again on Monday 9 March, 9:00 to 12:30 and 14:00 to 18:00.",
        ),
    ],
)  # fmt: skip
def test_the_sentence_follows_the_hours_the_clock_and_the_closed_days(now: dt.datetime, said: str) -> None:
    week = {0: WITH_A_BREAK, 1: WHOLE_DAY, 2: WHOLE_DAY}
    closed = frozenset({MONDAY + dt.timedelta(days=2)})
    assert opening_words(Opening(week, closed), now) == said


def test_without_hours_nothing_is_said() -> None:
    assert opening_words(Opening(), at(10)) == ""


def test_closed_for_weeks_nothing_is_said() -> None:
    closed = frozenset(MONDAY + dt.timedelta(days=ahead) for ahead in range(40))
    assert opening_words(Opening({0: WHOLE_DAY}, closed), at(10)) == ""


@pytest.mark.parametrize(
    ("week", "said"),
    [
        ({}, ""),
        ({0: WHOLE_DAY}, "Monday 9:00 to 18:00"),
        (dict.fromkeys(range(5), WHOLE_DAY), "Monday to Friday 9:00 to 18:00"),
        (
            {0: WHOLE_DAY, 1: WHOLE_DAY, 3: WHOLE_DAY, 6: WITH_A_BREAK},
            "Monday to Tuesday 9:00 to 18:00, Thursday 9:00 to 18:00, Sunday 9:00 to 12:30 and 14:00 to 18:00",
        ),
    ],
)
def test_the_hours_of_a_week_in_words(week: dict[int, tuple[OpenSpan, ...]], said: str) -> None:
    assert week_words(week) == said
