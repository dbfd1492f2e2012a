"""Survival against the remissions of Freireich et al. 1963 and the breast retractions of Finkelstein and Wolfe 1985.

Weeks in remission, 21 under 6-mercaptopurine, of which 12 were still in remission when last seen, and 21 under placebo
(Gehan 1965; Cox and Oakes 1984; Kalbfleisch and Prentice 2002). Data and Kaplan-Meier values are from memory; the
product-limit formula is worked again here in exact fractions, so that a slip of memory would show.

Months until breast retraction of 94 women, each known between two visits only: 46 after radiotherapy, 48 with
chemotherapy besides (Finkelstein and Wolfe, Biometrics 41). The data are those of the R package MLEcens
(`cosmesis`), looked up in its public repository. The masses of Turnbull's estimate are those that Fay and Shaw 2010
(Journal of Statistical Software 36) print to four places for its R package `interval`; from memory, and all nineteen
come out of the data.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.office.figures.survival import ServiceLife, survival_of, tenth_between, turnbull, weibull_fit

IN_REMISSION_AGAIN = (6, 6, 6, 7, 10, 13, 16, 22, 23)
STILL_IN_REMISSION = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
TREATED = [(float(weeks), True) for weeks in IN_REMISSION_AGAIN] + [(float(w), False) for w in STILL_IN_REMISSION]
PLACEBO = [(float(weeks), True) for weeks in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)]
PUBLISHED = {6: 0.857, 7: 0.807, 10: 0.753, 13: 0.690, 16: 0.627, 22: 0.538, 23: 0.448}
RADIOTHERAPY = """
45- 6-10 0-7 46- 46- 7-16 17- 7-14 37-44 0-8 4-11 15- 11-15 22- 46- 46- 25-37 46- 26-40 46- 27-34 36-44 46- 36-48 37-
40- 17-25 46- 11-18 38- 5-12 37- 0-5 18- 24- 36- 5-11 19-35 17-25 24- 32- 33- 19-26 37- 34- 36-
"""
WITH_CHEMOTHERAPY = """
8-12 0-22 24-31 17-27 17-23 24-30 16-24 13- 11-13 16-20 18-25 17-26 32- 23- 44-48 14-17 0-5 5-8 12-20 11- 33-40 31-
13-39 19-32 34- 13- 16-24 35- 15-22 11-17 22-32 10-35 30-34 13- 10-17 8-21 4-9 11- 14-19 4-8 34- 30-36 18-24 16-60
35-39 21- 11-20 48-
"""
MASSES = {
    RADIOTHERAPY: {
        (4, 5): 0.0463, (6, 7): 0.0334, (7, 8): 0.0887, (11, 12): 0.0708, (24, 25): 0.0926, (33, 34): 0.0818,
        (38, 40): 0.1209, (46, 48): 0.4656,
    },
    WITH_CHEMOTHERAPY: {
        (4, 5): 0.0433, (5, 8): 0.0433, (11, 12): 0.0692, (16, 17): 0.1454, (18, 19): 0.1411, (19, 20): 0.1157,
        (24, 25): 0.0999, (30, 31): 0.0709, (35, 36): 0.1608, (44, 48): 0.0552, (48, 60): 0.0552,
    },
}  # fmt: skip


def seen(lives: Sequence[tuple[float, bool]]) -> tuple[ServiceLife, ...]:
    """Lives whose end was seen or that were still good, each of a unit of its own."""
    return tuple(ServiceLife(at, at if bad else math.inf, number) for number, (at, bad) in enumerate(lives))


def between_visits(months: str) -> tuple[ServiceLife, ...]:
    """Months between which each woman's retraction came, as written above."""
    ends = [text.split("-") for text in months.split()]
    return tuple(ServiceLife(float(low), float(high or math.inf), number) for number, (low, high) in enumerate(ends))


def by_hand(lives: list[tuple[float, bool]]) -> dict[float, Fraction]:
    """The product-limit estimate, in fractions."""
    share, found = Fraction(1), {}
    for at in sorted({hours for hours, bad in lives if bad}):
        bad = sum(1 for hours, is_bad in lives if is_bad and hours == at)
        in_use = sum(1 for hours, _ in lives if hours >= at)
        share *= Fraction(in_use - bad, in_use)
        found[at] = share
    return found


def test_the_published_kaplan_meier_values() -> None:
    """Where every end was seen, Turnbull's estimate is Kaplan and Meier's."""
    steps = turnbull(seen(TREATED))
    assert [step.hours for step in steps] == list(PUBLISHED)
    for step in steps:
        assert step.share == pytest.approx(PUBLISHED[int(step.hours)], abs=5e-4)
        assert step.begins == step.hours


@pytest.mark.parametrize("months", MASSES)
def test_the_published_masses_of_turnbulls_estimate(months: str) -> None:
    steps = turnbull(between_visits(months))
    shares = [1.0, *(step.share for step in steps)]
    masses = {
        (step.begins, step.hours): before - step.share for before, step in zip(shares, steps, strict=False)
    }  # fmt: skip
    assert list(masses) == list(MASSES[months])
    for place, mass in masses.items():
        assert mass == pytest.approx(MASSES[months][place], abs=6e-5), place  # type: ignore[index]


@pytest.mark.parametrize("months", MASSES)
def test_the_estimate_is_self_consistent(months: str) -> None:
    """Turnbull 1976: each span shared out over the masses that it takes in gives those masses again."""
    spans = between_visits(months)
    shares = [1.0, *(step.share for step in turnbull(spans))]
    steps = turnbull(spans)
    masses = np.array([before - step.share for before, step in zip(shares, steps, strict=False)])
    inside = np.array(
        [[span.low <= (step.begins or 0) and step.hours <= span.high for step in steps] for span in spans]
    )
    again = (inside * masses / (inside @ masses)[:, None]).mean(axis=0)
    assert again == pytest.approx(masses, abs=1e-5)


def test_the_weibull_fit_of_what_is_known_between_visits() -> None:
    """The likelihood written out here, S(low) - S(high), falls whichever way the fit is moved by a thousandth."""
    for months in MASSES:
        spans = between_visits(months)
        fit = weibull_fit(spans)
        assert fit is not None

        def likelihood(shape: float, scale: float, spans: tuple[ServiceLife, ...] = spans) -> float:
            good = [[math.exp(-((at / scale) ** shape)) for at in span[:2]] for span in spans]
            return sum(math.log(low - high) for low, high in good)

        top = likelihood(fit.shape, fit.scale_hours)
        for shape, scale in ((1.001, 1.0), (0.999, 1.0), (1.0, 1.001), (1.0, 0.999)):
            assert likelihood(fit.shape * shape, fit.scale_hours * scale) < top


def test_the_same_lives_of_fewer_units_say_less() -> None:
    """Each woman counted four times over, once as four units and once as one: only the first is four times as sure."""
    women = between_visits(WITH_CHEMOTHERAPY)
    as_one = survival_of(women * 4)
    as_four = survival_of(tuple(span._replace(unit=number) for number, span in enumerate(women * 4)))
    alone = survival_of(women)
    widths = []
    for one in (alone, as_one, as_four):
        assert one.tenth_between is not None
        widths.append(one.tenth_between[1] - one.tenth_between[0])
    assert as_one.fit == pytest.approx(as_four.fit)
    assert widths[1] == pytest.approx(widths[0], rel=0.1)
    assert widths[2] == pytest.approx(widths[0] / 2, rel=0.25)  # the root of four


def test_the_range_of_one_in_ten_against_theory() -> None:
    """By the likelihood's curvature, with no drawing: the range is the fit times exp(± 1.96 standard errors).

    Exponential lives all seen: log(scale) has the standard error 1 / sqrt(n) and the shape 0.78 / sqrt(n) of itself
    (Cohen 1965; Lawless 2003, 5.2), with the known covariance 0.257; together 1.96 se of log(tenth).
    """
    count = 400
    at = [-math.log(1 - (number + 0.5) / count) for number in range(count)]
    spans = seen([(hours, True) for hours in at])
    fit = weibull_fit(spans)
    assert fit is not None
    lean = math.log(-math.log(0.9))  # log(tenth) = log(scale) + lean / shape
    error = math.sqrt((1.109 - 2 * lean * 0.257 + lean**2 * 0.608) / count)
    least, most = tenth_between(spans, fit)
    assert math.log(most / least) == pytest.approx(2 * 1.96 * error, rel=0.15)


def test_the_published_medians() -> None:
    assert survival_of(seen(TREATED)).hours_at(0.5) == 23
    assert survival_of(seen(PLACEBO)).hours_at(0.5) == 8


def test_the_published_quartile() -> None:
    """The table above comes to three quarters between weeks 10 (0.753) and 13 (0.690)."""
    assert survival_of(seen(TREATED)).hours_at(0.25) == 13


def test_counts_of_events_and_censored() -> None:
    treated = survival_of(seen(TREATED))
    assert (treated.events, treated.censored, treated.longest_hours) == (9, 12, 35.0)


@given(st.lists(st.tuples(st.integers(1, 30).map(float), st.booleans()), min_size=1, max_size=40))
def test_as_the_product_limit_formula_by_hand(lives: list[tuple[float, bool]]) -> None:
    expected = by_hand(lives)
    steps = turnbull(seen(lives))
    assert [step.hours for step in steps] == list(expected)
    for step in steps:
        assert step.share == pytest.approx(float(expected[step.hours]), abs=1e-5)
        assert 0.0 <= step.low <= step.share + 1e-12
        assert step.share - 1e-12 <= step.high <= 1.0


def test_the_weibull_fit_of_the_treated() -> None:
    """Shape 1.354 and scale 33.77 weeks, as survreg of R prints them (scale 0.7387, intercept 3.519); from memory."""
    fit = weibull_fit(seen(TREATED))
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
    fit = weibull_fit(seen(lives))
    assert fit is not None
    assert (fit.shape, fit.scale_hours) == pytest.approx((low, scale), rel=1e-3)


def test_quantiles_of_the_fit_are_those_of_its_curve() -> None:
    fit = weibull_fit(seen(TREATED))
    assert fit is not None
    assert fit.still_good(fit.hours_at(0.1)) == pytest.approx(0.9)
    assert fit.still_good(fit.hours_at(0.5)) == pytest.approx(0.5)


def test_too_few_say_nothing() -> None:
    assert not survival_of(seen([(10.0, True), (20.0, True), (30.0, False)])).says_something
    assert survival_of(()).steps == ()
    some = survival_of(seen([(10.0, True), (20.0, True), (30.0, True), (40.0, False)]))
    assert some.says_something
    assert some.fit is None


def test_all_found_bad_ends_at_nought() -> None:
    last = turnbull(seen([(float(n), True) for n in range(1, 6)]))[-1]
    assert (last.share, last.low) == (0.0, 0.0)


def test_all_bad_at_the_same_hour_is_fitted_or_left_out_but_never_an_error() -> None:
    survival = survival_of(seen([(100.0, True)] * 8))
    assert (survival.hours_at(0.5), survival.events) == (100.0, 8)


def test_all_found_bad_at_their_first_check_is_never_an_error() -> None:
    survival = survival_of(tuple(ServiceLife(0.0, 100.0 + n, n) for n in range(8)))
    assert (survival.hours_at(0.5), survival.events) == (100.0, 8)


def test_still_good_when_new_says_nothing() -> None:
    survival = survival_of((*(ServiceLife(10.0, 20.0, n) for n in range(3)), ServiceLife(0.0, math.inf, 4)))
    assert (survival.events, survival.censored) == (3, 0)


@pytest.mark.parametrize("span", [ServiceLife(0.0, 0.0, 1), ServiceLife(20.0, 10.0, 1), ServiceLife(-1.0, 10.0, 1)])
def test_an_impossible_life_is_refused(span: ServiceLife) -> None:
    with pytest.raises(ValueError, match="hours"):
        survival_of((span,))
