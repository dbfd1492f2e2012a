"""Hours of mechanics' calendars: the arithmetic of half days, absences and queues, without a database."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.promise.calendar import Away, MechanicHours, works_at_all
from workshop.promise.days import Bench, QueuedJob, finishing_days, open_days
from workshop.promise.dealt import DealtJob, deal

WEDNESDAY = dt.date(2026, 11, 25)
NO_REST: frozenset[int] = frozenset()
# Whole quarters of an hour, so that sums are exact and a minute decides nothing.
QUARTERS = st.integers(0, 96).map(lambda quarters: quarters * 15.0)
WEEKS = st.lists(QUARTERS, min_size=7, max_size=7)
DAYS = st.integers(0, 60).map(lambda days: WEDNESDAY + dt.timedelta(days=days))
AWAYS = st.lists(
    st.builds(lambda first, long, half: Away(first, first + dt.timedelta(days=long), half), DAYS, st.integers(0, 9),
              st.booleans()), max_size=4)  # fmt: skip
PEOPLE = st.lists(st.tuples(WEEKS, AWAYS), min_size=1, max_size=3).map(
    lambda rows: tuple(MechanicHours(key, f"M{key}", week, tuple(away)) for key, (week, away) in enumerate(rows))
)
JOBS = st.lists(st.integers(1, 900).map(float), min_size=1, max_size=8)


def one(week: list[float], *away: Away) -> MechanicHours:
    return MechanicHours(1, "Ana", week, away)


def day(number: int) -> dt.date:
    return dt.date(2026, 11, number)


def test_a_half_day_away_is_half_the_hours_of_that_day_and_two_halves_are_the_day() -> None:
    week = [480.0, 480.0, 240.0, 480.0, 240.0, 0.0, 0.0]
    half, other = Away(day(25), day(26), half=True), Away(day(26), day(26), half=True)
    assert one(week, half).minutes_on(day(25)) == 120
    assert one(week, half).minutes_on(day(27)) == 240
    assert one(week, half, other).minutes_on(day(26)) == 0
    assert one(week, half, other, other).minutes_on(day(26)) == 0


@pytest.mark.parametrize("week", [[25 * 60.0] + [0.0] * 6, [-1.0] + [0.0] * 6, [60.0] * 6])
def test_a_week_that_no_clock_has_is_refused(week: list[float]) -> None:
    with pytest.raises(ValueError, match="seven days of 0 to 24 hours"):
        one(week)


def test_an_absence_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="before it begins"):
        Away(day(26), day(25))


@given(DAYS, st.integers(0, 9), DAYS, st.integers(0, 9))
def test_two_absences_meet_where_they_share_a_day(first: dt.date, long: int, other: dt.date, longer: int) -> None:
    def days_of(begin: dt.date, count: int) -> set[dt.date]:
        return {begin + dt.timedelta(days=ahead) for ahead in range(count + 1)}

    mine = Away(first, first + dt.timedelta(days=long))
    its = Away(other, other + dt.timedelta(days=longer))
    assert mine.meets(its) == its.meets(mine) == bool(days_of(first, long) & days_of(other, longer))


@given(PEOPLE, DAYS)
def test_hours_of_a_day_are_between_none_and_the_week_and_the_bench_has_their_sum(
    people: tuple[MechanicHours, ...], on: dt.date
) -> None:
    for mechanic in people:
        assert 0 <= mechanic.minutes_on(on) <= mechanic.week[on.weekday()]
    bench = Bench(1, 360.0, NO_REST, people=people)
    assert bench.minutes_on(on) == sum(mechanic.minutes_on(on) for mechanic in people)
    assert Bench(1, 360.0, NO_REST, frozenset({on}), people).minutes_on(on) == 0


@given(JOBS, st.integers(1, 4), st.integers(4, 40))
def test_calendars_of_equal_days_say_what_the_bench_without_calendars_says(
    minutes: list[float], mechanics: int, quarters: int
) -> None:
    each = quarters * 15.0
    plain = Bench(mechanics, each)
    week = [each] * 5 + [0.0, 0.0]
    people = tuple(MechanicHours(key, f"M{key}", week) for key in range(mechanics))
    jobs = [QueuedJob(one, day(27) if one % 2 else None) for one in minutes]
    by_calendar = Bench(9, 1.0, people=people)
    assert finishing_days(by_calendar, WEDNESDAY, jobs) == finishing_days(plain, WEDNESDAY, jobs)


@given(PEOPLE.filter(lambda people: works_at_all(people, ())), JOBS)
def test_the_load_of_the_days_comes_to_the_days_of_the_promises(
    people: tuple[MechanicHours, ...], minutes: list[float]
) -> None:
    """The drawing's minutes, added apart, end on the days the promises are reckoned with."""
    bench = Bench(1, 360.0, NO_REST, people=people)
    jobs = [DealtJob(number, None, length) for number, length in enumerate(minutes)]
    days, dealt = deal(bench, WEDNESDAY, jobs, 400)
    finished = finishing_days(bench, WEDNESDAY, [QueuedJob(length) for length in minutes])
    longest = [max(mechanic.minutes_on(on) for mechanic in people) for on in days]
    assert sum(part.minutes for part in dealt) == pytest.approx(sum(minutes))
    for on in days[:30]:
        assert sum(part.minutes for part in dealt if part.day == on) <= bench.minutes_on(on) + 1e-2
    for job, done in zip(jobs, finished, strict=True):
        parts = [part for part in dealt if part.job == job]
        begun, last = days.index(parts[0].day), parts[-1].day
        assert sum(part.minutes for part in parts) == pytest.approx(job.minutes)
        alone = begun  # the day by which one mechanic alone would have it, from the day it is begun
        while sum(longest[begun : alone + 1]) < job.minutes - 1e-3:
            alone += 1
        assert done == max(last, days[alone])


@given(PEOPLE.filter(lambda people: works_at_all(people, ())), JOBS, AWAYS)
def test_who_is_away_more_never_has_a_job_done_sooner(
    people: tuple[MechanicHours, ...], minutes: list[float], more: list[Away]
) -> None:
    first, *others = people
    fewer = (MechanicHours(first.key, first.name, first.week, (*first.away, *more)), *others)
    jobs = [QueuedJob(sum(minutes))]
    there, away = (Bench(1, 360.0, NO_REST, people=group) for group in (people, fewer))
    assert finishing_days(away, WEDNESDAY, jobs) >= finishing_days(there, WEDNESDAY, jobs)


def test_a_queue_of_years_has_a_day_too_and_a_bench_that_works_a_quarter_of_an_hour_a_week() -> None:
    bench = Bench(1, 360.0, people=(one([15.0] + [0.0] * 6),))
    (done,) = finishing_days(bench, WEDNESDAY, [QueuedJob(15.0 * 200)])
    assert done == WEDNESDAY + dt.timedelta(days=5 + 7 * 199)
    assert next(open_days(bench, WEDNESDAY)) == day(30)


def test_nobody_works_where_the_only_hours_are_on_a_day_of_rest() -> None:
    saturday = one([0.0] * 5 + [300.0, 0.0])
    assert not works_at_all([saturday], (5, 6))
    assert works_at_all([saturday], (6,))
