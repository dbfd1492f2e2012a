"""Survival against the remission times of 42 leukaemia patients: Freireich et al. 1963, as Gehan 1965 used them.

Weeks in remission, 21 under 6-mercaptopurine, of which 12 were still in remission when last seen, and 21 under placebo.
The data set stands in most textbooks (Cox and Oakes 1984; Kalbfleisch and Prentice 2002; Kleinbaum and Klein), and with
it the Kaplan-Meier values and Greenwood's standard errors below. Data and values are from memory; the product-limit
formula is worked again here in exact fractions, so that a slip of memory would show.
"""

from __future__ import annotations

import math
from fractions import Fraction
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.office.figures.survival import product_limit, survival_of, weibull_fit

IN_REMISSION_AGAIN = (6, 6, 6, 7, 10, 13, 16, 22, 23)
STILL_IN_REMISSION = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
TREATED = [(float(weeks), True) for weeks in IN_REMISSION_AGAIN] + [(float(w), False) for w in STILL_IN_REMISSION]
PLACEBO = [(float(weeks), True) for weeks in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)]
# Weeks: (share in remission, Greenwood's standard error), as printed to three and four places.
PUBLISHED = {
    6: (0.857, 0.0764), 7: (0.807, 0.0869), 10: (0.753, 0.0963), 13: (0.690, 0.1068),
    16: (0.627, 0.1141), 22: (0.538, 0.1282), 23: (0.448, 0.1346),
}  # fmt: skip


def by_hand(lives: list[tuple[float, bool]]) -> dict[float, tuple[Fraction, Fraction]]:
    """The product-limit estimate and Greenwood's sum, in fractions."""
    share, greenwood, found = Fraction(1), Fraction(0), {}
    for at in sorted({hours for hours, bad in lives if bad}):
        bad = sum(1 for hours, is_bad in lives if is_bad and hours == at)
        in_use = sum(1 for hours, _ in lives if hours >= at)
        share *= Fraction(in_use - bad, in_use)
        greenwood += Fraction(bad, in_use * (in_use - bad)) if in_use > bad else 0
        found[at] = (share, greenwood)
    return found


def test_the_published_kaplan_meier_values() -> None:
    steps = product_limit(TREATED)
    assert [step.hours for step in steps] == list(PUBLISHED)
    for step in steps:
        assert step.share == pytest.approx(PUBLISHED[int(step.hours)][0], abs=5e-4)


def test_the_published_standard_errors_lie_behind_the_band() -> None:
    """The log-log limits are share ^ exp(± z se / (share log share)); solved for se they give Greenwood's."""
    z = NormalDist().inv_cdf(0.975)
    for step in product_limit(TREATED):
        power = math.log(math.log(step.low) / math.log(step.share))
        error = power / z * step.share * -math.log(step.share)
        assert error == pytest.approx(PUBLISHED[int(step.hours)][1], abs=6e-5)
        assert math.log(step.high) / math.log(step.share) == pytest.approx(math.exp(-power))


def test_the_published_medians() -> None:
    assert survival_of(TREATED).hours_at(0.5) == 23
    assert survival_of(PLACEBO).hours_at(0.5) == 8


def test_the_published_quartile() -> None:
    """The table above comes to three quarters between weeks 10 (0.753) and 13 (0.690)."""
    assert survival_of(TREATED).hours_at(0.25) == 13


def test_counts_of_events_and_censored() -> None:
    treated = survival_of(TREATED)
    assert (treated.events, treated.censored, treated.longest_hours) == (9, 12, 35.0)


@given(st.lists(st.tuples(st.integers(1, 30).map(float), st.booleans()), min_size=1, max_size=40))
def test_as_the_product_limit_formula_by_hand(lives: list[tuple[float, bool]]) -> None:
    expected = by_hand(lives)
    steps = product_limit(lives)
    assert [step.hours for step in steps] == list(expected)
    for step in steps:
        assert step.share == pytest.approx(float(expected[step.hours][0]))
        assert 0.0 <= step.low <= step.share + 1e-12
        assert step.share - 1e-12 <= step.high <= 1.0


def test_the_weibull_fit_of_the_treated() -> None:
    """Shape 1.354 and scale 33.77 weeks, as survreg of R prints them (scale 0.7387, intercept 3.519); from memory."""
    fit = weibull_fit(TREATED)
    assert fit is not None
    assert fit.shape == pytest.approx(1.354, abs=2e-3)
    assert fit.scale_hours == pytest.approx(33.77, abs=0.02)


@pytest.mark.parametrize("lives", [TREATED, PLACEBO])
def test_the_fit_solves_the_equations_of_likelihood(lives: list[tuple[float, bool]]) -> None:
    """Of all shapes, found here by halving, and not by SciPy: d log L = 0 (Lawless 2003, 5.2)."""
    events = [hours for hours, bad in lives if bad]

    def slope(shape: float) -> float:
        powers: list[float] = [hours**shape for hours, _ in lives]
        weighted = sum(power * math.log(hours) for power, (hours, _) in zip(powers, lives, strict=True))
        return weighted / sum(powers) - 1 / shape - sum(map(math.log, events)) / len(events)

    low, high = 0.05, 20.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if slope(middle) < 0 else (low, middle)
    scale = (sum(hours**low for hours, _ in lives) / len(events)) ** (1 / low)
    fit = weibull_fit(lives)
    assert fit is not None
    assert (fit.shape, fit.scale_hours) == pytest.approx((low, scale), rel=1e-3)


def test_quantiles_of_the_fit_are_those_of_its_curve() -> None:
    fit = weibull_fit(TREATED)
    assert fit is not None
    assert fit.still_good(fit.hours_at(0.1)) == pytest.approx(0.9)
    assert fit.still_good(fit.hours_at(0.5)) == pytest.approx(0.5)


def test_too_few_say_nothing() -> None:
    assert not survival_of([(10.0, True), (20.0, True), (30.0, False)]).says_something
    assert survival_of([]).steps == ()
    some = survival_of([(10.0, True), (20.0, True), (30.0, True), (40.0, False)])
    assert some.says_something
    assert some.fit is None


def test_all_found_bad_ends_at_nought_with_a_band_all_the_way() -> None:
    last = product_limit([(float(n), True) for n in range(1, 6)])[-1]
    assert (last.share, last.low) == (0.0, 0.0)
    assert 0.0 < last.high < 1.0


def test_all_bad_at_the_same_hour_is_fitted_or_left_out_but_never_an_error() -> None:
    survival = survival_of([(100.0, True)] * 8)
    assert (survival.hours_at(0.5), survival.events) == (100.0, 8)


def test_a_life_of_no_hours_is_refused() -> None:
    with pytest.raises(ValueError, match="hours"):
        survival_of([(0.0, True)])
