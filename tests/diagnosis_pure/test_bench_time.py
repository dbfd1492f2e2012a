"""Minutes of each step from the times of its ticks: pauses, steps ticked together, corrections."""

from __future__ import annotations

import datetime as dt

import pytest

from diagnosis.bench_time import ClockedTick, StepTime, pause_limit_minutes, step_times

NINE = dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC)


def ticked(key: str, minutes: float, planned: float = 5.0) -> ClockedTick[str]:
    return ClockedTick(key, planned, NINE + dt.timedelta(minutes=minutes))


def test_a_step_lasts_from_the_tick_before_to_its_own() -> None:
    times = step_times([NINE], [ticked("look", 4), ticked("wipe", 10)])
    assert times == {"look": StepTime(4.0), "wipe": StepTime(6.0)}
    assert all(time.tells_the_step for time in times.values())


def test_ticks_of_two_checklists_share_one_clock() -> None:
    second_begun = NINE + dt.timedelta(minutes=6)
    times = step_times([NINE, second_begun], [ticked("look", 4), ticked("other list", 9), ticked("wipe", 12)])
    assert {key: time.minutes for key, time in times.items()} == {"look": 4.0, "other list": 3.0, "wipe": 3.0}


def test_lunch_is_left_out_and_said() -> None:
    times = step_times([NINE], [ticked("look", 4), ticked("wipe", 94), ticked("bleed", 98)])
    assert times["wipe"] == StepTime(0.0, pause_minutes=90.0)
    assert not times["wipe"].tells_the_step
    assert times["bleed"] == StepTime(4.0)


@pytest.mark.parametrize(("planned", "limit"), [(2.0, 30.0), (10.0, 30.0), (30.0, 90.0)])
def test_a_long_job_may_last_longer_before_it_counts_as_a_pause(planned: float, limit: float) -> None:
    assert pause_limit_minutes(planned) == limit
    assert step_times([NINE], [ticked("job", limit, planned)])["job"].minutes == limit
    assert step_times([NINE], [ticked("job", limit + 0.1, planned)])["job"].minutes == 0.0


def test_steps_ticked_together_count_for_the_ticket_but_not_for_each_step() -> None:
    times = step_times([NINE], [ticked("look", 12), ticked("wipe", 12.05), ticked("bleed", 16)])
    assert sum(time.minutes for time in times.values()) == pytest.approx(16.0)
    assert [key for key, time in times.items() if time.tells_the_step] == ["bleed"]


def test_a_step_ticked_again_adds_to_its_time() -> None:
    times = step_times([NINE], [ticked("look", 4), ticked("wipe", 6), ticked("look", 9)])
    assert times["look"].minutes == 7.0


def test_a_correction_takes_the_place_of_the_clock() -> None:
    times = step_times([NINE], [ticked("look", 94)], {"look": 8.0})
    assert times["look"] == StepTime(8.0, corrected=True)
    assert times["look"].tells_the_step


def test_a_tablet_whose_clock_is_behind_makes_no_negative_minutes() -> None:
    times = step_times([NINE], [ticked("look", -3), ticked("wipe", 2)])
    assert [time.minutes for time in times.values()] == [0.0, 2.0]
