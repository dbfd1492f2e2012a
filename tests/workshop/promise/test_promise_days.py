"""Days on which work is done, against a bench that is worked minute by minute."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.promise.days import Bench, NeverOpen, QueuedJob, finishing_days

WEDNESDAY = dt.date(2026, 11, 25)


def bench(mechanics: int = 1, minutes: float = 360, **more: object) -> Bench:
    return Bench(mechanics, minutes, **more)  # type: ignore[arg-type]


def day(number: int) -> dt.date:
    return dt.date(2026, 11, number)


def test_an_empty_bench_does_it_on_the_next_open_day() -> None:
    assert finishing_days(bench(), WEDNESDAY, [QueuedJob(60)]) == [day(26)]


def test_work_runs_over_the_weekend() -> None:
    jobs = [QueuedJob(360), QueuedJob(360), QueuedJob(60)]
    assert finishing_days(bench(), WEDNESDAY, jobs) == [day(26), day(27), day(30)]


def test_a_holiday_is_left_out() -> None:
    closed = frozenset({day(26)})
    assert finishing_days(bench(closed_days=closed), WEDNESDAY, [QueuedJob(60)]) == [day(27)]


def test_two_mechanics_do_twice_as_much_but_a_job_is_one_mechanics() -> None:
    two = bench(mechanics=2)
    assert finishing_days(two, WEDNESDAY, [QueuedJob(360), QueuedJob(360)]) == [day(26), day(26)]
    assert finishing_days(two, WEDNESDAY, [QueuedJob(720)]) == [day(27)]


def test_parts_that_come_on_a_friday_are_fitted_on_monday() -> None:
    assert finishing_days(bench(), WEDNESDAY, [QueuedJob(60, parts_on=day(27))]) == [day(30)]


def test_parts_expected_on_a_day_of_rest_come_on_the_next_open_day_and_are_fitted_after_it() -> None:
    assert finishing_days(bench(), WEDNESDAY, [QueuedJob(60, parts_on=day(28))]) == [day(30) + dt.timedelta(days=1)]
    monday_off = bench(closed_days=frozenset({day(30)}))
    assert finishing_days(monday_off, WEDNESDAY, [QueuedJob(60, parts_on=day(29))]) == [dt.date(2026, 12, 2)]


def test_a_bench_that_never_opens_is_refused() -> None:
    with pytest.raises(NeverOpen):
        bench(closed_weekdays=frozenset(range(7)))


@given(st.lists(st.integers(1, 900), min_size=1, max_size=8), st.integers(60, 480))
def test_one_mechanic_minute_by_minute(minutes: list[int], a_day: int) -> None:
    """Every minute of the queue is dealt to the days by hand, one after the other."""
    open_days = [WEDNESDAY + dt.timedelta(days=ahead) for ahead in range(1, 400)]
    open_days = [one for one in open_days if one.weekday() < 5]
    dealt = [open_days[(sum(minutes[: place + 1]) - 1) // a_day] for place in range(len(minutes))]
    assert finishing_days(bench(minutes=a_day), WEDNESDAY, [QueuedJob(one) for one in minutes]) == dealt


@given(st.lists(st.integers(1, 900), min_size=1, max_size=6), st.integers(1, 4))
def test_a_longer_queue_never_ends_sooner(minutes: list[int], mechanics: int) -> None:
    jobs = [QueuedJob(one) for one in minutes]
    last = finishing_days(bench(mechanics), WEDNESDAY, [*jobs, QueuedJob(30)])[-1]
    assert last >= finishing_days(bench(mechanics), WEDNESDAY, [QueuedJob(30)])[-1]
    assert last >= finishing_days(bench(mechanics), WEDNESDAY, jobs)[-1] or mechanics > 1
