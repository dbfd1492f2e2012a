"""Minutes of a step from planned minutes and ticks."""

import numpy as np
import pytest
from scipy import stats

from diagnosis.beliefs import step_minutes


def test_median_of_the_ticks_drawn_towards_the_plan() -> None:
    learned = step_minutes(10.0, [14.0, 15.0, 16.0, 15.0, 13.0])
    assert (learned.median, learned.planned, learned.ticks) == (15.0, 10.0, 5)
    assert learned.minutes == pytest.approx(12.5)  # by hand: five ticks weigh as much as the plan
    assert learned.few


def test_without_ticks_the_plan_stands() -> None:
    learned = step_minutes(10.0, [])
    assert (learned.minutes, learned.median, learned.low, learned.high, learned.ticks) == (10.0, None, None, None, 0)


def test_many_ticks_leave_the_plan_behind() -> None:
    learned = step_minutes(10.0, [15.0] * 495)
    assert learned.minutes == pytest.approx(14.95)
    assert not learned.few


def test_a_tablet_left_over_lunch_does_not_count_as_work() -> None:
    ticks = [6.0, 7.0, 6.5, 7.5, 6.0, 7.0, 6.5]
    with_lunch = step_minutes(6.0, [*ticks, 71.0, 1030.0])
    assert abs(with_lunch.minutes - step_minutes(6.0, ticks).minutes) < 0.5


@pytest.mark.parametrize("count", [5, 8, 20, 101, 400])
def test_interval_of_the_median_agrees_with_scipy(count: int) -> None:
    """Outside check: the two one-sided bounds of SciPy's quantile test at 95 % each."""
    ticks = np.random.default_rng(count).lognormal(2.0, 0.4, count)
    learned = step_minutes(8.0, ticks.tolist())
    low = stats.quantile_test(ticks, p=0.5, alternative="greater").confidence_interval(0.95).low
    high = stats.quantile_test(ticks, p=0.5, alternative="less").confidence_interval(0.95).high
    assert (learned.low, learned.high) == pytest.approx((low, high))


def test_below_five_ticks_there_is_no_interval() -> None:
    learned = step_minutes(8.0, [7.0, 8.0, 9.0, 10.0])
    assert (learned.low, learned.high) == (None, None)


@pytest.mark.parametrize(("planned", "ticks"), [(-1.0, []), (5.0, [6.0, -2.0]), (5.0, [float("nan")])])
def test_impossible_minutes(planned: float, ticks: list[float]) -> None:
    with pytest.raises(ValueError, match="minutes"):
        step_minutes(planned, ticks)
