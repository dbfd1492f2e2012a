"""Percentiles against the worked example of the NIST/SEMATECH e-Handbook and against NumPy.

The e-Handbook of Statistical Methods, 7.2.6.2 “Percentiles”, has twelve gauge measurements and finds 95.1981 as their
90th percentile. Numbers from memory, not copied from the page today; that they agree to the last figure, and that NumPy
agrees on others, is the check.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.office.figures.quantiles import median, percentile

NIST_GAUGES = (
    95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682,
)  # fmt: skip


def test_the_handbooks_example() -> None:
    assert percentile(NIST_GAUGES, 0.9) == pytest.approx(95.1981, abs=5e-5)


@given(
    st.lists(st.floats(0, 1e4, allow_subnormal=False), min_size=1, max_size=60),
    st.sampled_from([0.0, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 1.0]),
)
def test_as_numpy_has_it(values: list[float], share: float) -> None:
    """NumPy's method `weibull` is Hyndman and Fan's definition 6, which the handbook describes."""
    assert percentile(values, share) == pytest.approx(float(np.quantile(values, share, method="weibull")), abs=1e-6)


@given(st.lists(st.floats(-1e4, 1e4, allow_subnormal=False), min_size=1, max_size=60))
def test_the_median_is_every_methods_median(values: list[float]) -> None:
    assert median(values) == pytest.approx(float(np.median(values)), abs=1e-6)


def test_of_nothing_there_is_none() -> None:
    assert percentile([], 0.9) is None
    assert median([]) is None


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_a_share_outside_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="share"):
        percentile([1.0], share)


def test_of_fewer_than_nine_the_90th_is_the_longest() -> None:
    assert percentile(range(1, 9), 0.9) == 8
    assert percentile(range(1, 10), 0.9) == 9
    assert percentile(range(1, 12), 0.9) == pytest.approx(10.8)
