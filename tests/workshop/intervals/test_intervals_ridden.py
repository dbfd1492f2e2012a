"""How many hours a unit was ridden, from weekly figures, rides and counter readings. No database."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.known import known
from workshop.intervals.ridden import (
    CounterValue,
    HoursKnown,
    RideHistory,
    RideHours,
    WeeklyFigure,
    hours_per_day_now,
    tells_more_tomorrow,
)

MONDAY = dt.date(2026, 6, 1)


def hours_between(history: RideHistory, start: dt.date, end: dt.date) -> float:
    """Ride hours from `start` up to, not including, `end`."""
    return sum(stretch.hours for stretch in history.stretches(start, end))


def days(count: int) -> dt.date:
    return MONDAY + dt.timedelta(days=count)


def test_a_weekly_figure_counts_from_its_day() -> None:
    history = RideHistory(weekly=(WeeklyFigure(MONDAY, 7.0),))
    assert hours_between(history, days(-14), days(14)) == pytest.approx(14.0)


def test_a_later_figure_replaces_the_earlier() -> None:
    history = RideHistory(weekly=(WeeklyFigure(MONDAY, 7.0), WeeklyFigure(days(7), 14.0)))
    assert hours_between(history, MONDAY, days(14)) == pytest.approx(7 + 14)


def test_in_a_week_with_rides_they_count_instead_of_the_figure() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(days(-7), 7.0),), rides=(RideHours(days(1), 1.5), RideHours(days(6), 2.5))
    )
    assert hours_between(history, days(-7), days(14)) == pytest.approx(7 + 4 + 7)


def test_a_ride_counts_on_its_day_only() -> None:
    history = RideHistory(rides=(RideHours(days(2), 3.0),))
    assert hours_between(history, MONDAY, days(2)) == 0
    assert hours_between(history, days(2), days(3)) == pytest.approx(3.0)


def test_between_two_counter_readings_their_difference_counts_and_nothing_else() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(days(-30), 70.0),),
        rides=(RideHours(days(1), 9.0),),
        counter=(CounterValue(MONDAY, 800.0), CounterValue(days(10), 820.0)),
    )
    assert hours_between(history, MONDAY, days(10)) == pytest.approx(20.0)
    assert hours_between(history, days(5), days(10)) == pytest.approx(10.0)
    assert hours_between(history, days(14), days(21)) == pytest.approx(14.0)
    assert hours_between(history, days(-14), days(-7)) == pytest.approx(70.0)


def test_a_counter_that_was_set_anew_is_not_used() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(MONDAY, 7.0),), counter=(CounterValue(MONDAY, 800.0), CounterValue(days(7), 3.0))
    )
    assert hours_between(history, MONDAY, days(7)) == pytest.approx(7.0)


def test_what_nobody_knows_is_not_guessed() -> None:
    stretches = RideHistory().stretches(MONDAY, days(30))
    assert [stretch.known for stretch in stretches] == [HoursKnown.NOTHING]
    assert hours_per_day_now(RideHistory(), MONDAY) is None


def test_stretches_join_without_gap_or_overlap() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(days(3), 5.0),),
        rides=(RideHours(days(9), 1.0),),
        counter=(CounterValue(days(15), 10.0), CounterValue(days(20), 12.0)),
    )
    stretches = history.stretches(MONDAY, days(40))
    assert stretches[0].start == MONDAY
    assert stretches[-1].end == days(40)
    assert all(one.end == other.start for one, other in itertools.pairwise(stretches))


def test_no_days_have_no_hours() -> None:
    assert hours_between(RideHistory(weekly=(WeeklyFigure(MONDAY, 7.0),)), days(3), days(3)) == 0
    assert hours_between(RideHistory(weekly=(WeeklyFigure(MONDAY, 7.0),)), days(3), MONDAY) == 0


def test_present_riding_is_what_is_said_else_what_was_measured() -> None:
    assert hours_per_day_now(RideHistory(weekly=(WeeklyFigure(MONDAY, 3.5),)), days(50)) == pytest.approx(0.5)
    measured = RideHistory(counter=(CounterValue(MONDAY, 0.0), CounterValue(days(28), 14.0)))
    assert hours_per_day_now(measured, days(28)) == pytest.approx(0.5)


def test_one_ride_does_not_make_a_rate_of_one_day() -> None:
    assert hours_per_day_now(RideHistory(rides=(RideHours(days(0), 2.8),)), days(1)) == pytest.approx(2.8 / 14)


def test_days_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="rides"):
        RideHistory(rides=(RideHours(days(2), 1.0), RideHours(days(1), 1.0)))


def test_what_the_owner_before_said_ends_when_it_changes_hands() -> None:
    history = RideHistory(weekly=(WeeklyFigure(MONDAY, 7.0),), changed_hands=(days(14),))
    assert hours_between(history, MONDAY, days(28)) == pytest.approx(14.0)
    assert history.figure_on(days(14)) is None
    assert hours_per_day_now(history, days(28)) is None


def test_what_the_new_owner_says_counts_from_the_day_it_is_theirs() -> None:
    weekly = (WeeklyFigure(MONDAY, 7.0), WeeklyFigure(days(14), 14.0))
    history = RideHistory(weekly=weekly, changed_hands=(days(14),))
    assert hours_between(history, MONDAY, days(28)) == pytest.approx(14 + 28)


def test_two_riders_have_two_counters() -> None:
    counter = (CounterValue(MONDAY, 800.0), CounterValue(days(20), 860.0), CounterValue(days(30), 870.0))
    history = RideHistory(counter=counter, changed_hands=(days(10),))
    assert hours_between(history, MONDAY, days(20)) == 0
    assert hours_between(history, days(20), days(30)) == pytest.approx(10.0)


def test_rides_of_the_owner_before_say_nothing_of_the_new_owners_week() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(days(3), 7.0),), rides=(RideHours(days(1), 3.0),), changed_hands=(days(3),)
    )
    assert hours_between(history, MONDAY, days(7)) == pytest.approx(3 + 4)
    assert hours_per_day_now(RideHistory(rides=(RideHours(days(1), 2.8),), changed_hands=(days(3),)), days(5)) is None


def test_what_was_counted_lately_weighs_most() -> None:
    """Half a year at 2 h a week, then six weeks at 8: nearer to eight, by a half-life of 45 days."""
    counter = (CounterValue(days(0), 0.0), CounterValue(days(182), 52.0), CounterValue(days(224), 100.0))
    weekly = 7 * (hours_per_day_now(RideHistory(counter=counter), days(224)) or 0)
    gone, before = 0.5 ** (42 / 45), 0.5 ** (224 / 45)
    assert weekly == pytest.approx((8 * (1 - gone) + 2 * (gone - before)) / (1 - before))
    assert 4.9 < weekly < 8


def test_a_counter_that_was_not_read_for_long_does_not_fade_to_nothing() -> None:
    counter = (CounterValue(MONDAY, 0.0), CounterValue(days(28), 14.0))
    assert hours_per_day_now(RideHistory(counter=counter), days(70)) == pytest.approx(0.5)


def test_a_few_rides_do_not_outweigh_what_was_told() -> None:
    """A ride sent is one among others that may not have been sent: the week's figure fills up two weeks."""
    history = RideHistory(weekly=(WeeklyFigure(days(-300), 7.0),), rides=(RideHours(days(1), 14.0),))
    assert hours_per_day_now(history, days(7)) == pytest.approx((14 + 7) / 14)


def test_rides_of_many_weeks_outweigh_what_was_told_before() -> None:
    rides = tuple(RideHours(days(7 * week), 7.0) for week in range(12))
    now = hours_per_day_now(RideHistory(weekly=(WeeklyFigure(days(-60), 2.0),), rides=rides), days(84))
    assert 0.9 < known(now) < 1.0


def test_what_the_owner_before_counted_does_not_go_on() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(days(30), 2.0),),
        counter=(CounterValue(MONDAY, 0.0), CounterValue(days(28), 28.0)),
        changed_hands=(days(30),),
    )
    assert hours_per_day_now(history, days(40)) == pytest.approx(2 / 7)
    assert hours_between(history, days(30), days(37)) == pytest.approx(2.0)


def test_days_after_the_last_reading_are_not_told_to_be_measured() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(MONDAY, 2.0),), counter=(CounterValue(MONDAY, 0.0), CounterValue(days(7), 8.0))
    )
    assert [one.known for one in history.stretches(MONDAY, days(14))] == [HoursKnown.COUNTER, HoursKnown.CARRIED_ON]
    assert hours_between(history, MONDAY, days(14)) == pytest.approx(16.0)


@given(st.integers(0, 400), st.integers(1, 60))
def test_a_day_that_goes_by_changes_no_rate(later: int, told_on: int) -> None:
    """So that the due list needs no looking at each day."""
    counter = (CounterValue(days(0), 0.0), CounterValue(days(20), 30.0), CounterValue(days(40), 40.0))
    history = RideHistory(weekly=(WeeklyFigure(days(told_on), 2.0),), counter=counter)
    at = hours_per_day_now(history, days(60))
    assert hours_per_day_now(history, days(60 + later)) == pytest.approx(at)
    assert not tells_more_tomorrow(history, days(60 + later))
