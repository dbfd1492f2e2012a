"""Public holidays held against Easter by dateutil, and against the fixed days that laws name.

Easter is computed by `dateutil.easter` (after the algorithm of Meeus' “Astronomical Algorithms”), another library
than the one that says the holidays; four of its Sundays are held against an almanac: Easter fell on 31 March 2024,
20 April 2025, 5 April 2026 and 28 March 2027 (U.S. Naval Observatory, “Date of Easter”; typed from memory).
"""

from __future__ import annotations

import datetime as dt

import pytest
from dateutil.easter import EASTER_ORTHODOX, easter

from workshop.promise.closed import countries, public_holidays, subdivisions

YEARS = range(2020, 2036)


@pytest.mark.parametrize("sunday", ["2024-03-31", "2025-04-20", "2026-04-05", "2027-03-28"])
def test_easter_is_the_almanacs(sunday: str) -> None:
    day = dt.date.fromisoformat(sunday)
    assert easter(day.year) == day


@pytest.mark.parametrize("year", YEARS)
def test_movable_feasts_lie_by_easter(year: int) -> None:
    """Days from Easter Sunday: Good Friday -2, Monday +1, Ascension +39, Whit Monday +50, Corpus Christi +60."""
    sunday = easter(year)

    def at(days: int) -> dt.date:
        day: dt.date = sunday + dt.timedelta(days=days)
        return day

    assert {at(-2), at(1), at(39), at(50)} <= set(public_holidays("DE", "", year))
    assert at(60) in public_holidays("DE", "BY", year)
    assert at(60) not in public_holidays("DE", "", year)
    assert at(60) not in public_holidays("DE", "BE", year)
    assert {at(1), at(39), at(50)} <= set(public_holidays("FR", "", year))
    assert at(-2) not in public_holidays("FR", "", year)
    assert {at(-2), at(1)} <= set(public_holidays("GB", "ENG", year))
    assert at(1) not in public_holidays("GB", "SCT", year)  # Scotland keeps no Easter Monday
    orthodox = easter(year, EASTER_ORTHODOX)
    assert {orthodox + dt.timedelta(days=ahead) for ahead in (-2, 1)} <= set(public_holidays("GR", "", year))


@pytest.mark.parametrize("year", YEARS)
def test_fixed_days_are_where_the_law_puts_them(year: int) -> None:
    """Day of German Unity: Unification Treaty, article 2(2). Bastille Day: law of 6 July 1880."""
    assert dt.date(year, 10, 3) in public_holidays("DE", "", year)
    assert dt.date(year, 7, 14) in public_holidays("FR", "", year)
    thursdays = [dt.date(year, 11, number) for number in range(1, 31) if dt.date(year, 11, number).weekday() == 3]
    assert thursdays[3] in public_holidays("US", "", year)  # 5 U.S.C. 6103(a): the fourth Thursday in November


def test_every_country_and_part_in_the_lists_can_be_asked() -> None:
    assert len(countries()) > 200
    for code, name in countries():
        assert name
        public_holidays(code, "", 2026)
    assert ("BY", "Bayern (BY)") in subdivisions("DE")
    assert subdivisions("??") == ()


def test_a_country_that_the_library_does_not_know_any_more_has_no_holidays() -> None:
    assert public_holidays("??", "", 2026) == {}
