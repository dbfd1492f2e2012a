"""A day in a sentence of Python is written as pages write it: 5 Dec 2026, with weekday or in full where it counts."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.conf import settings
from django.utils import timezone

from workshop.web.day_words import IN_FULL, SHORT, day_in_words, day_written, short_day

# What a machine reads (2026-12-05) is no sentence.
_WRITTEN = re.compile(r"""(?:\{[^{}"]*:|strftime\(")(%[-a-zA-Z.,: %]*%[bBmYy][^"'}]*)""")
_AS_PAGES_DO = {"%-d %b %Y", "%-d %B %Y", "%a %-d %b %Y", "%b %Y", "%-d %b %Y, %H:%M", "%-d %B %Y, %H:%M"}
_FOR_MACHINES = re.compile(r"%Y-?%m(-?%d.*)?")


def ways_of(source: str) -> set[str]:
    """The ways in which some code writes days."""
    return {way for way in _WRITTEN.findall(source) if not _FOR_MACHINES.fullmatch(way)}


def test_days_in_sentences_are_written_in_two_ways() -> None:
    files = [path for room in ("workshop", "diagnosis", "specs") for path in (settings.BASE_DIR / room).rglob("*.py")]
    found = {path: ways_of(path.read_text()) - _AS_PAGES_DO for path in files if "migrations" not in path.parts}
    assert {str(path.relative_to(settings.BASE_DIR)): ways for path, ways in found.items() if ways} == {}


def test_another_way_is_found() -> None:
    assert ways_of('f"since {day:%d.%m.%Y}."') == {"%d.%m.%Y"}
    assert ways_of('day.strftime("%d %b %Y, %H:%M")') == {"%d %b %Y, %H:%M"}
    assert ways_of('f"{day:%Y-%m-%d}"') == set()
    assert ways_of('dt.datetime.strptime(text, "%d.%m.%Y")') == set()  # what others write is read


# With a weekday, short, in full; a time may stand behind. Attributes that a machine reads are in its own way.
_WAYS = {"D j M", "j M", "l j F", "D j M, H:i", "j M, H:i"}
_FILTER = re.compile(r"""\|(day|date|time):["']([^"']*)["']""")
# Papers are read long after and have the year always; the customer's page has its months in full.
_OF_PAPER = ("documents/", "portal/", "privacy/register.html")
_FIRST_OF_A_RANGE = {"reminders/_due_date.html": {"date:j M"}}  # of one year, which stands behind the last day


def ways_in(template: str) -> set[str]:
    """The ways in which a template writes days, times and machines' days left out."""
    written = [(name, way) for name, way in _FILTER.findall(template) if way not in {"H:i", "Y-m-d"}]
    return {f"{name}:{way}" for name, way in written if name != "day" or way not in _WAYS}


def test_pages_write_days_in_three_ways() -> None:
    folder = settings.BASE_DIR / "templates"
    found = {str(path.relative_to(folder)): ways_in(path.read_text()) for path in folder.rglob("*.html")}
    assert len(found) > 200
    pages = {name: ways for name, ways in found.items() if ways and not name.startswith(_OF_PAPER)}
    assert pages == _FIRST_OF_A_RANGE


def test_another_way_is_found_in_a_template() -> None:
    assert ways_in('{{ a|date:"j M Y" }} {{ a|day:"j F" }} {{ a|day:"j M, H:i" }}') == {"date:j M Y", "day:j F"}
    assert ways_in("""{{ a|date:'Y-m-d' }} {{ a|time:"H:i" }} {{ a|day:"l j F" }}""") == set()


THIS_YEAR = dt.date(2026, 6, 1)


@pytest.mark.parametrize(
    ("day", "with_weekday", "short", "in_full"),
    [
        (dt.date(2026, 12, 5), "Sat 5 Dec", "5 Dec", "Saturday 5 December"),
        (dt.date(2027, 1, 4), "Mon 4 Jan 2027", "4 Jan 2027", "Monday 4 January 2027"),
        (dt.date(2025, 9, 30), "Tue 30 Sep 2025", "30 Sep 2025", "Tuesday 30 September 2025"),
    ],
)
def test_three_ways_have_the_year_where_it_is_another(
    day: dt.date, with_weekday: str, short: str, in_full: str
) -> None:
    said = day_in_words(day, THIS_YEAR), short_day(day, THIS_YEAR), day_written(day, IN_FULL, today=THIS_YEAR)
    assert said == (with_weekday, short, in_full)


def test_a_moment_is_told_by_the_shops_clock() -> None:
    at = dt.datetime(2001, 12, 31, 23, 30, tzinfo=dt.UTC)
    with timezone.override("Europe/Athens"):
        assert day_written(at, f"{SHORT}, H:i") == "1 Jan 2002, 01:30"
