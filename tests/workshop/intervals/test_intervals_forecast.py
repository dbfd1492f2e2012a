"""When a service is due, and why in one line. No database."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from workshop.intervals.forecast import (
    DueBy,
    Figures,
    Forecast,
    Rule,
    ServiceStanding,
    add_months,
    day_words,
    forecast,
    whole_months_between,
)
from workshop.intervals.ridden import CounterValue, RideHistory, RideHours, WeeklyFigure

SERVICE = dt.date(2026, 6, 3)
RULE = Rule("lowers", 50.0, None, "Invented manual, p. 3")
FIGURES = Figures()


def weekly(hours: float, since: dt.date = SERVICE, **more: Any) -> RideHistory:
    return RideHistory(weekly=(WeeklyFigure(since, hours, **more),))


def made(rule: Rule = RULE, history: RideHistory | None = None, **changes: Any) -> Forecast:
    arguments: dict[str, Any] = {
        "counted_from": SERVICE,
        "after_service": True,
        "today": dt.date(2026, 9, 19),
        "figures": FIGURES,
        **changes,
    }
    found = forecast(rule, history if history is not None else weekly(4.0), **arguments)
    assert found is not None
    return found


def test_hours_and_reason() -> None:
    found = made()
    # 109 days with today, at 4 h a week
    assert found.hours_ridden == pytest.approx(109 * 4 / 7)
    assert found.explanation == "62 of 50 h by the customer’s 4 h a week since 3 June"
    assert found.due_by is DueBy.HOURS
    # 50 h at 4/7 h a day are full on day 87.5
    assert found.due == SERVICE + dt.timedelta(days=88)
    assert found.earliest == SERVICE + dt.timedelta(days=70)
    assert found.latest == SERVICE + dt.timedelta(days=117)
    assert found.standing is ServiceStanding.DUE


def test_overdue_only_when_even_little_riding_has_passed_it() -> None:
    assert made(today=dt.date(2026, 9, 29)).standing is ServiceStanding.OVERDUE


def test_a_due_day_ahead_counts_on_from_today() -> None:
    found = made(today=dt.date(2026, 7, 1))
    assert found.due == SERVICE + dt.timedelta(days=88)
    assert found.standing is ServiceStanding.LATER


def test_coming_up_within_the_owners_days() -> None:
    figures = replace(FIGURES, said_hours_spread=0.0)
    assert made(today=dt.date(2026, 8, 1), figures=figures).standing is ServiceStanding.COMING_UP
    assert (
        made(today=dt.date(2026, 8, 1), figures=replace(figures, coming_up_days=20)).standing is ServiceStanding.LATER
    )


def test_whichever_comes_first() -> None:
    both = replace(RULE, months=2)
    found = made(both)
    assert found.due_by is DueBy.MONTHS
    assert found.due == dt.date(2026, 8, 3)
    assert not found.is_a_range
    assert found.explanation == "3 of 2 months since 3 June"
    assert made(replace(RULE, months=12)).due_by is DueBy.HOURS


def test_months_cut_the_range_of_hours() -> None:
    found = made(replace(RULE, months=3))
    assert found.due_by is DueBy.HOURS
    assert found.latest == dt.date(2026, 9, 3)


def test_wet_riding_shortens_the_hours_and_says_so() -> None:
    found = made(history=weekly(4.0, conditions="wet"))
    assert found.hours_allowed == pytest.approx(37.5)
    assert found.explanation == ("62 of 37.5 h (50 h × 0.75 for wet riding) by the customer’s 4 h a week since 3 June")


def test_months_alone_need_no_riding() -> None:
    found = made(Rule("full", None, 24, "manual"), RideHistory())
    assert found.due == dt.date(2028, 6, 3)


def test_months_hold_where_nobody_knows_the_riding() -> None:
    assert made(replace(RULE, months=6), RideHistory()).due_by is DueBy.MONTHS


def test_hours_without_any_riding_lead_nowhere() -> None:
    arguments: dict[str, Any] = {"counted_from": SERVICE, "after_service": True, "today": SERVICE, "figures": FIGURES}
    assert forecast(RULE, RideHistory(), **arguments) is None
    assert forecast(RULE, weekly(0.0), **arguments) is None


def test_measured_hours_have_no_range_behind_them() -> None:
    counter = RideHistory(counter=(CounterValue(SERVICE, 100.0), CounterValue(dt.date(2026, 9, 1), 190.0)))
    found = made(history=counter)
    assert found.due == SERVICE + dt.timedelta(days=50)
    assert not found.is_a_range
    assert found.explanation == "90 of 50 h by the readings of the hour counter"


def test_rides_and_a_figure_are_both_named() -> None:
    history = RideHistory(
        weekly=(WeeklyFigure(SERVICE, 4.0, by_customer=False),),
        rides=(RideHours(dt.date(2026, 9, 1), 2.0), RideHours(dt.date(2026, 9, 3), 2.0)),
    )
    assert made(history=history).explanation == "62 of 50 h by 2 rides sent and our estimate of 4 h a week since 3 June"


def test_figures_that_changed_are_said_to_have_changed() -> None:
    history = RideHistory(weekly=(WeeklyFigure(dt.date(2026, 6, 10), 2.0), WeeklyFigure(dt.date(2026, 8, 1), 4.0)))
    assert "4 h a week now, other figures before, since 3 June" in made(history=history).explanation


def counted(*readings: tuple[str, float], told: float = 2.0, since: str = "2026-05-25", **more: Any) -> RideHistory:
    figure = WeeklyFigure(dt.date.fromisoformat(since), told, **more)
    counter = tuple(CounterValue(dt.date.fromisoformat(day), hours) for day, hours in readings)
    return RideHistory(weekly=(figure,), counter=counter)


JUNE: dict[str, Any] = {"counted_from": dt.date(2026, 5, 25), "today": dt.date(2026, 6, 1)}


def test_what_was_counted_goes_before_what_was_told() -> None:
    """Told 2 h a week, counted 8: 42 h are left of 50, which is 8 July at 8 h a week and 26 October at 2."""
    found = made(history=counted(("2026-05-25", 100.0), ("2026-06-01", 108.0)), **JUNE)
    assert found.due == dt.date(2026, 7, 8)
    assert found.explanation == (
        "9.1 of 50 h by the readings of the hour counter and 8 h a week as measured, which goes before "
        "the customer’s 2 h a week"
    )
    told_long_before = counted(("2026-05-25", 100.0), ("2026-06-01", 108.0), since="2025-01-01")
    assert made(history=told_long_before, **JUNE).due == dt.date(2026, 7, 8)


def test_days_since_the_last_reading_were_ridden_as_counted() -> None:
    history = counted(("2026-05-25", 100.0), ("2026-06-01", 108.0))
    found = made(history=history, **(JUNE | {"today": dt.date(2026, 6, 29)}))
    assert found.hours_ridden == pytest.approx(36 * 8 / 7)
    assert found.due == dt.date(2026, 7, 8)
    assert found.earliest < found.due < found.latest


def test_what_was_told_after_the_last_reading_is_weighed_with_it() -> None:
    history = counted(("2026-05-25", 100.0), ("2026-06-01", 108.0), since="2026-06-02")
    found = made(history=history, **(JUNE | {"today": dt.date(2026, 6, 3)}))
    assert dt.date(2026, 7, 8) < found.due < dt.date(2026, 10, 26)


def test_a_late_wet_entry_does_not_rewrite_dry_hours() -> None:
    """40 dry hours in ten weeks, then wet: what is left wears faster, what is gone does not."""
    dry = WeeklyFigure(SERVICE, 4.0)
    today = SERVICE + dt.timedelta(days=70)
    wet = RideHistory(weekly=(dry, WeeklyFigure(today, 4.0, conditions="wet")))
    before = made(history=RideHistory(weekly=(dry,)), today=today - dt.timedelta(days=1))
    found = made(history=wet, today=today)
    assert before.due == SERVICE + dt.timedelta(days=88)
    # 40 of 50 h are gone; 10 h at three quarters are 7.5 h, which are 13.1 days
    assert found.due == SERVICE + dt.timedelta(days=84)
    assert found.hours_allowed == pytest.approx(47.5)
    assert found.explanation == (
        "41 of 47.5 h (50 h, with × 0.75 for wet riding where it was) by the customer’s 4 h a week since 12 August"
    )


def test_a_late_dry_entry_does_not_rewrite_wet_hours() -> None:
    today = SERVICE + dt.timedelta(days=49)
    history = RideHistory(weekly=(WeeklyFigure(SERVICE, 4.0, conditions="wet"), WeeklyFigure(today, 4.0)))
    # 28 wet hours wear as 37.3; 12.7 dry ones are left, 22.2 days
    assert made(history=history, today=today).due == today + dt.timedelta(days=23)


def test_without_a_known_service_it_says_so() -> None:
    assert made(after_service=False).explanation.endswith("; no earlier service is known")


def test_a_day_of_another_year_names_it() -> None:
    assert day_words(dt.date(2025, 6, 3), dt.date(2026, 1, 1)) == "3 June 2025"


@given(st.dates(dt.date(1990, 1, 1), dt.date(2090, 1, 1)), st.integers(0, 240))
def test_months_are_those_of_dateutil(day: dt.date, months: int) -> None:
    """Against python-dateutil's relativedelta, a general-purpose library."""
    assert add_months(day, months) == day + relativedelta(months=months)


@given(st.dates(dt.date(1990, 1, 1), dt.date(2090, 1, 1)), st.integers(0, 4000))
def test_whole_months_gone_are_the_most_that_fit(start: dt.date, days: int) -> None:
    end = start + dt.timedelta(days=days)
    gone = whole_months_between(start, end)
    assert add_months(start, gone) <= end < add_months(start, gone + 1)


@given(
    st.floats(0.1, 40.0),
    st.floats(5.0, 300.0),
    st.floats(0.0, 0.8),
    st.integers(0, 900),
    st.sampled_from([None, 6, 24]),
)
def test_the_range_holds_the_day(hours: float, interval: float, spread: float, days: int, months: int | None) -> None:
    found = forecast(
        Rule("lowers", interval, months, "manual"),
        weekly(hours),
        counted_from=SERVICE,
        after_service=True,
        today=SERVICE + dt.timedelta(days=days),
        figures=Figures(said_hours_spread=spread),
    )
    if found is not None:
        assert found.earliest <= found.due <= found.latest
