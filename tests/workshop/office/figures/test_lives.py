"""The lives of parts out of a unit's history, and what is said of them. No database."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import pytest

from diagnosis.declared import LIVES
from tests.shipped import shipped_folder
from workshop.intervals.ridden import RideHistory, WeeklyFigure
from workshop.office.figures.components import COMPONENTS
from workshop.office.figures.life_sections import first_words, life_figure
from workshop.office.figures.lives import FoundBad, Life, Lives, PartHistory, Renewal, SeenGood, lives_of
from workshop.office.figures.survival import ServiceLife, survival_of

NEW = dt.date(2026, 1, 5)
RIDING = RideHistory(weekly=(WeeklyFigure(NEW, 7.0),))  # an hour a day


def days(count: int) -> dt.date:
    return NEW + dt.timedelta(days=count)


def renewed(day: int, ticket: int, took: int = 2) -> Renewal:
    return Renewal(days(day), days(day - took), ticket)


def seen(bad_at: list[float], good_until: list[float] | None = None) -> tuple[ServiceLife, ...]:
    return tuple(
        [ServiceLife(at, at, n) for n, at in enumerate(bad_at)]
        + [ServiceLife(at, math.inf, -n) for n, at in enumerate(good_until or [])]
    )


def told(today: int = 200, heard_of: int = 200, riding: RideHistory = RIDING, **more: Any) -> Lives:
    part = PartHistory(**({"renewed": [renewed(0, 1)], "found_bad": []} | more), riding=riding, heard_of=days(heard_of))
    return lives_of([part], days(today))


def test_found_bad_ends_a_life_on_the_day_it_came_in() -> None:
    (life,) = told(found_bad=[FoundBad(days(60), 2)]).lives
    assert life.hours == pytest.approx(60.0)
    assert life == Life(life.hours, True, 2)


def test_in_use_it_was_good_until_today() -> None:
    (life,) = told(today=200).lives
    assert life.hours == pytest.approx(200.0)
    assert life == Life(life.hours, False, 1)


def test_not_heard_of_for_more_than_a_year_it_is_not_thought_good_for_ever() -> None:
    (life,) = told(today=1000, heard_of=100).lives
    assert life.hours == pytest.approx(100 + 365)


def test_replaced_while_still_good_ends_a_life_without_its_being_bad() -> None:
    lives = told(renewed=[renewed(0, 1), renewed(90, 2, took=5)]).lives
    assert [life.hours for life in lives] == pytest.approx([85, 110])
    assert [life.found_bad for life in lives] == [False, False]


def test_found_bad_and_replaced_on_one_ticket_is_one_life_and_a_new_one() -> None:
    lives = told(renewed=[renewed(0, 1), renewed(90, 2, took=5)], found_bad=[FoundBad(days(85), 2)]).lives
    assert [life.hours for life in lives] == pytest.approx([85, 110])
    assert [life.found_bad for life in lives] == [True, False]


def test_the_finding_that_led_to_the_new_part_does_not_end_it() -> None:
    lives = told(renewed=[Renewal(days(0), days(0), 1)], found_bad=[FoundBad(days(0), 1)]).lives
    assert [life.found_bad for life in lives] == [False]


def test_after_it_was_found_bad_nothing_counts_until_it_is_new() -> None:
    lives = told(found_bad=[FoundBad(days(60), 2), FoundBad(days(80), 3)]).lives
    assert len(lives) == 1


def test_without_a_known_beginning_there_is_no_life() -> None:
    assert told(renewed=[], found_bad=[FoundBad(days(60), 2)]).lives == []


def test_a_life_whose_riding_is_not_known_is_left_out_and_counted() -> None:
    late = RideHistory(weekly=(WeeklyFigure(days(30), 7.0),))
    left_out = told(riding=late, found_bad=[FoundBad(days(60), 2)])
    assert (left_out.lives, left_out.left_out) == ([], 1)
    nearly = RideHistory(weekly=(WeeklyFigure(days(6), 7.0),))
    assert told(riding=nearly, found_bad=[FoundBad(days(60), 2)]).lives[0].hours == pytest.approx(54)


def test_nothing_is_said_of_too_few() -> None:
    figure = life_figure({"wipers": Lives([Life(50.0, True, 1), Life(90.0, False, 2)])})
    section = figure.section("wipers")
    assert section is not None
    assert section.plot is None
    assert section.says[0].startswith("1 found bad, 1 still good when last heard of. Too few")
    assert figure.headline == "Too few parts were found bad so far to say how long they last."


def test_words_that_help_to_set_an_interval() -> None:
    survival = survival_of(seen([60.0] * 2 + [140.0] * 8 + [200.0] * 6))
    assert first_words(survival) == "half were bad by about 140 h; 1 in 10 by 60 h."


def test_a_half_that_was_never_reached_is_not_made_up() -> None:
    survival = survival_of(seen([60.0] * 3, [210.0] * 9))
    assert survival.hours_at(0.5) is None
    assert first_words(survival).startswith("fewer than half were bad within the 210 h seen")


def test_a_fitted_figure_never_reaches_beyond_what_was_seen() -> None:
    lives = [Life(50.0 + n, True, n) for n in range(6)] + [Life(60.0, False, 100 + n) for n in range(40)]
    section = life_figure({"wipers": Lives(lives)}).section("parts")
    assert section is not None
    assert section.rows[0].values[7] is None


def test_a_curve_has_its_numbers_in_the_table_beside_it() -> None:
    hours = ((0.0, 40.0), (30.0, 60.0), (30.0, 60.0), (80.0, 90.0), (0.0, 120.0), (110.0, 150.0))
    lives = [Life(until, True, n, good_until_hours=since, unit=n) for n, (since, until) in enumerate(hours, start=1)]
    section = life_figure({"wipers": Lives([*lives, Life(200.0, False, 9, unit=9)])}).section("wipers")
    assert section is not None
    assert section.plot is not None
    assert [(row.values[0], row.values[1], len(row.values[2])) for row in section.rows] == [  # type: ignore[arg-type]
        (30.0, 40.0, 4), (80.0, 90.0, 2), (110.0, 120.0, 2),
    ]  # fmt: skip


def test_it_was_good_at_the_last_check_before_it_was_bad() -> None:
    seen_good = [SeenGood(days(day), ticket) for day, ticket in ((0, 1), (20, 3), (45, 4), (60, 2), (70, 5))]
    (life,) = told(found_bad=[FoundBad(days(60), 2)], seen_good=seen_good).lives
    assert (life.good_until_hours, life.hours) == pytest.approx((45, 60))
    (unseen,) = told(found_bad=[FoundBad(days(60), 2)]).lives
    assert unseen.good_until_hours == 0


def test_a_rider_who_complains_of_it_noticed_it_not_long_ago() -> None:
    (life,) = told(found_bad=[FoundBad(days(60), 2, noticed=True)]).lives
    assert (life.good_until_hours, life.hours) == pytest.approx((30, 60))
    seen_good = [SeenGood(days(45), 4)]
    (seen_later,) = told(found_bad=[FoundBad(days(60), 2, noticed=True)], seen_good=seen_good).lives
    assert seen_later.good_until_hours == pytest.approx(45)
    (early,) = told(found_bad=[FoundBad(days(20), 2, noticed=True)]).lives
    assert early.good_until_hours == 0


def test_lives_that_are_known_too_roughly_name_no_interval() -> None:
    bad = [Life(50.0 + 9 * n, True, n + 1, unit=n + 1) for n in range(12)]
    good = [Life(20.0 + 15 * n, False, 20 + n, unit=20 + n) for n in range(12)]
    section = life_figure({"wipers": Lives([*bad, *good])}).section("wipers")
    assert section is not None
    assert any("known too roughly to name an interval" in words for words in section.says)
    assert not any("ride hours by the fit" in words or "Weibull shape" in words for words in section.says)


def test_the_page_says_what_repeated_lives_mean_for_the_interval() -> None:
    lives = [Life(60.0 + 10 * n, True, n + 1, good_until_hours=50.0 + 10 * n, unit=n % 3 + 1) for n in range(12)]
    section = life_figure({"wipers": Lives(lives)}).section("wipers")
    assert section is not None
    (said,) = [words for words in section.says if "interval would be" in words]
    assert "for these lives are of 3 units only" in said
    assert "take the lower figure" in said


def test_each_part_whose_life_is_told_ends_with_a_cause_of_the_shipped_checklists() -> None:
    ended = {part for plan in shipped_folder().checklists for cause in plan.causes for part in cause.ends_life}
    assert {component.key for component in COMPONENTS} == ended == set(LIVES)
