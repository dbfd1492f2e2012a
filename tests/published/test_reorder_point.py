"""The reorder point against mpmath's incomplete gamma function, Python's own normal distribution, and chance itself.

The Poisson law's sum up to k is the regularised upper incomplete gamma function Q(k + 1, mean): DLMF 8.11.10 has the
finite sum (https://dlmf.nist.gov/8.11).
"""

from __future__ import annotations

import random
from decimal import Decimal
from statistics import NormalDist

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.stock.reorder_point import Use, chances_of_uses, reorder_point


def up_to(most: int, mean: float) -> float:
    """The chance of no more than `most` uses, by another way than the sum."""
    return float(mpmath.gammainc(most + 1, mean, mpmath.inf, regularized=True))


@given(
    uses=st.integers(5, 300),
    days=st.integers(60, 365),
    lead=st.integers(1, 20),
    runs_out=st.sampled_from([0.01, 0.05, 0.1, 0.25]),
)
def test_the_mark_is_the_least_that_holds(uses: int, days: int, lead: int, runs_out: float) -> None:
    mean = uses / days * lead
    point = reorder_point(Use(uses, Decimal(uses), Decimal(uses), days), lead_days=lead, runs_out=runs_out)
    assert point is not None
    if point.by_normal_law:
        law = NormalDist(mean, mean**0.5)
        assert 1 - law.cdf(float(point.mark)) <= runs_out + 1e-9
        assert 1 - law.cdf(float(point.mark) - 1) > runs_out - 1e-9
        assert point.chance == pytest.approx(1 - law.cdf(float(point.mark)), abs=1e-9)
    else:
        most = int(point.mark)
        assert up_to(most, mean) >= 1 - runs_out - 1e-12
        assert most == 0 or up_to(most - 1, mean) < 1 - runs_out + 1e-12
        assert point.chance == pytest.approx(1 - up_to(most, mean), abs=1e-9)


@pytest.mark.parametrize(
    ("mean", "mark"),
    [(0.5, 2), (1.0, 3), (2.0, 5), (5.0, 9), (10.0, 15)],  # mpmath 1.3: Q(k + 1, mean) first above 0.95
)
def test_a_few_means_by_hand(mean: float, mark: int) -> None:
    assert up_to(mark, mean) >= 0.95 > up_to(mark - 1, mean)
    uses = round(mean * 100 / 10)
    point = reorder_point(Use(uses, Decimal(uses), Decimal(uses), 100), lead_days=10)
    assert point is not None
    assert point.mark == mark


def test_what_is_used_by_chance_runs_out_as_seldom_as_said() -> None:
    """Ten thousand waits drawn with a fixed seed: two pieces each time, and a normal number of millilitres."""
    chance = random.Random(20)
    for use, lead, poured in (
        (Use(60, Decimal(120), Decimal(240), 300), 8, False),
        (Use(900, Decimal(21_600), Decimal(900 * (24**2 + 6**2)), 300), 10, True),
    ):
        point = reorder_point(use, lead_days=lead, poured=poured)
        assert point is not None
        out = 0
        for _ in range(10_000):
            number = _poisson(chance, point.uses)
            taken = sum(chance.gauss(24, 6) for _ in range(number)) if poured else 2 * number
            out += taken > point.mark
        assert out / 10_000 == pytest.approx(point.chance, abs=0.012)
        assert out / 10_000 <= 0.062


def _poisson(chance: random.Random, mean: float) -> int:
    """Arrivals within `mean` units of time, each a unit after the one before on average."""
    number, at = 0, chance.expovariate(1)
    while at <= mean:
        number, at = number + 1, at + chance.expovariate(1)
    return number


def test_the_chances_drawn_are_the_laws_own() -> None:
    point = reorder_point(Use(30, Decimal(30), Decimal(30), 300), lead_days=20)
    assert point is not None
    chances = chances_of_uses(point, 12)
    expected = [float(mpmath.exp(-2) * mpmath.mpf(2) ** k / mpmath.factorial(k)) for k in range(13)]
    assert chances == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("use", [Use(4, Decimal(8), Decimal(16), 365), Use(50, Decimal(50), Decimal(50), 59)])
def test_too_little_is_no_suggestion(use: Use) -> None:
    assert reorder_point(use, lead_days=5) is None


@pytest.mark.parametrize("runs_out", [0.0, 1.0, -0.1])
def test_no_chance_is_refused(runs_out: float) -> None:
    with pytest.raises(ValueError, match="no chance"):
        reorder_point(Use(10, Decimal(10), Decimal(10), 100), lead_days=5, runs_out=runs_out)


def test_millilitres_are_whole_tens_and_a_delivery_of_today_waits_a_day() -> None:
    use = Use(30, Decimal(720), Decimal(18_000), 300)
    point, at_once = (reorder_point(use, lead_days=days, poured=True) for days in (7, 0))
    assert point is not None
    assert point.mark % 10 == 0
    assert at_once is not None
    assert at_once.uses == pytest.approx(0.1)
