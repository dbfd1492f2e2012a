"""The day of a forecast and its range, as the due list writes it."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from django.template.loader import render_to_string
from django.utils.html import strip_tags
from django.utils.timezone import localdate


@pytest.mark.parametrize("years_ago", [0, 1, 3])
@pytest.mark.parametrize("spans_a_new_year", [True, False])
def test_a_range_names_each_year_but_this_one_once(years_ago: int, spans_a_new_year: bool) -> None:
    year = localdate().year - years_ago
    earliest = dt.date(year - 1 if spans_a_new_year else year, 2, 27)
    latest = dt.date(year, 8, 11)
    forecast = SimpleNamespace(due=dt.date(year, 3, 3), is_a_range=True, earliest=earliest, latest=latest)
    words = " ".join(strip_tags(render_to_string("reminders/_due_date.html", {"forecast": forecast})).split())
    first = f"27 Feb {earliest.year}" if spans_a_new_year else "27 Feb"
    named = "" if years_ago == 0 else f" {year}"
    assert words == f"3 Mar{named}{first} to 11 Aug{named}"
