"""What tickets teach, against SciPy: the mean of a Dirichlet distribution, and the sign test's interval of a median."""

import numpy as np
import pytest
from scipy import stats

from diagnosis.beliefs import cause_beliefs, step_minutes


def test_the_share_of_each_cause_is_the_mean_of_the_posterior() -> None:
    """Prior weights 2, 5, 1 and 12, 40, 0 tickets: a Dirichlet distribution (Gelman et al., Bayesian Data Analysis)."""
    learned = cause_beliefs({"a": 2.0, "b": 5.0, "c": 1.0}, {"a": 12, "b": 40})
    assert [figure.share for figure in learned.figures] == pytest.approx(stats.dirichlet([14.0, 45.0, 1.0]).mean())


def test_tickets_of_another_kind_enter_at_a_discount_with_a_ceiling() -> None:
    """A power prior (Ibrahim and Chen 2000): a quarter of a ticket each, ten tickets' worth at most."""
    few = cause_beliefs({"a": 1.0, "b": 1.0}, {}, {"a": 8})
    assert [figure.share for figure in few.figures] == pytest.approx(stats.dirichlet([1 + 2.0, 1.0]).mean())
    many = cause_beliefs({"a": 1.0, "b": 1.0}, {}, {"a": 300, "b": 100})
    assert [figure.share for figure in many.figures] == pytest.approx(stats.dirichlet([1 + 7.5, 1 + 2.5]).mean())


@pytest.mark.parametrize("count", [5, 8, 12, 20, 41])
def test_the_interval_of_a_median_is_the_sign_tests(count: int) -> None:
    """SciPy's quantile_test (Conover, Practical Nonparametric Statistics) gives the same pair of order statistics."""
    ticked = np.random.default_rng(count).lognormal(2.0, 0.6, count).tolist()
    theirs = stats.quantile_test(ticked, p=0.5).confidence_interval(0.9)
    found = step_minutes(10.0, ticked)
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high))
    assert found.median == pytest.approx(float(np.median(ticked)))


def test_the_planned_minutes_weigh_as_five_ticks() -> None:
    """A weighted mean, by NumPy; the weight is the project's own choice, no published source."""
    ticked = [10.0, 12.0, 50.0]
    expected = np.average([30.0, 12.0], weights=[5, 3])
    assert step_minutes(30.0, ticked).minutes == pytest.approx(float(expected))
