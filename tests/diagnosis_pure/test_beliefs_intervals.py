"""The 90 % interval of a cause, against SciPy and mpmath."""

import subprocess
import sys
from pathlib import Path

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from diagnosis.beliefs import cause_beliefs, share_interval

ROOT = Path(__file__).parents[2]
WEIGHTS = st.floats(0.05, 500.0)


def test_each_cause_carries_its_interval() -> None:
    """The margin of a Dirichlet distribution is a Beta distribution; quantiles from SciPy."""
    learned = cause_beliefs({"scratch": 2.0, "dry_seal": 5.0, "blocked_port": 1.0}, {"scratch": 12, "dry_seal": 40})
    for figure, weight in zip(learned.figures, (14.0, 45.0, 1.0), strict=True):
        low, high = stats.beta(weight, 60.0 - weight).interval(0.9)
        assert (figure.low, figure.high) == pytest.approx((low, high), abs=1e-9)
        assert figure.low < figure.share < figure.high


def test_the_interval_holds_the_drawn_share_nine_times_in_ten() -> None:
    """Outside check: 20,000 draws from NumPy's Dirichlet distribution, within four standard errors."""
    drawn = np.random.default_rng(4).dirichlet([3.0, 9.0, 1.5], size=20_000)
    for cause, weight in enumerate((3.0, 9.0, 1.5)):
        low, high = share_interval(weight, 13.5)
        inside = np.mean((drawn[:, cause] >= low) & (drawn[:, cause] <= high))
        assert inside == pytest.approx(0.9, abs=0.0085)


def test_more_tickets_narrow_the_interval() -> None:
    widths = []
    for tickets in (10, 100, 1000):
        low, high = share_interval(0.3 * tickets, tickets)
        widths.append(high - low)
    assert widths[0] > 2.5 * widths[1] > 6 * widths[2]


@settings(deadline=None, max_examples=60, derandomize=True)
@given(WEIGHTS, WEIGHTS)
def test_each_end_leaves_a_twentieth_outside_by_mpmath(a: float, b: float) -> None:
    """The regularised incomplete beta function of mpmath, on both sides of each end of the interval."""
    for end, chance in zip(share_interval(a, a + b), (0.05, 0.95), strict=True):
        before, after = max(end - 1e-9, 0.0), min(end + 1e-9, 1.0)
        assert mpmath.betainc(a, b, 0, before, regularized=True) <= chance
        assert mpmath.betainc(a, b, 0, after, regularized=True) >= chance


@pytest.mark.parametrize(("weight", "rest"), [(1e-20, 8.0), (8.0, 1e-20), (1e-20, 1e-20), (2e6, 1e-3)])
def test_vanishing_weights_keep_to_the_range(weight: float, rest: float) -> None:
    low, high = share_interval(weight, weight + rest)
    assert 0.0 <= low <= high <= 1.0


def test_the_only_cause_is_certain() -> None:
    figure = cause_beliefs({"scratch": 1.0}, {"scratch": 3}).figures[0]
    assert (figure.share, figure.low, figure.high) == (1.0, 1.0, 1.0)


@pytest.mark.parametrize(("weight", "total"), [(0.0, 1.0), (-1.0, 1.0), (float("nan"), 1.0), (1.0, float("inf"))])
def test_weights_that_are_not_positive(weight: float, total: float) -> None:
    with pytest.raises(ValueError, match="positive, finite weights"):
        share_interval(weight, total)


def test_running_needs_neither_statistics_nor_django() -> None:
    """The suggestion is made on every bench page: of SciPy it takes the special functions, which load in a moment."""
    program = (
        "import sys, diagnosis.next_step, diagnosis.beliefs;"
        "print([name for name in ('scipy.stats', 'scipy.optimize', 'django', 'mpmath') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT)
    assert run.stdout.strip() == "[]"
