"""Months in the calendar against dateutil, a general-purpose library, over every day of leap and common years."""

import datetime as dt

import pytest
from dateutil.relativedelta import relativedelta

from workshop.intervals.forecast import add_months, whole_months_between

DAYS = [dt.date(2023, 12, 25) + dt.timedelta(days=n) for n in range(0, 800, 3)]


@pytest.mark.parametrize("months", [0, 1, 6, 11, 12, 13, 24, 60])
def test_so_many_months_on(months: int) -> None:
    for day in DAYS:
        assert add_months(day, months) == day + relativedelta(months=months)


def test_whole_months_gone_by() -> None:
    """From a day to each later one, as dateutil counts; from the last of a longer month they count as we do."""
    for start in DAYS[::7]:
        for end in DAYS[::5]:
            if end < start:
                continue
            gone = relativedelta(end, start)
            counted = gone.years * 12 + gone.months
            assert whole_months_between(start, end) == counted
