"""A day in a sentence of Python is written as pages write it: 5 Dec 2026, with weekday or in full where it counts."""

from __future__ import annotations

import re

from django.conf import settings

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
