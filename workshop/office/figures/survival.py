"""The share still good after so many hours, from lives known between two figures only: Turnbull and Weibull. No Django.

`turnbull` is the self-consistent estimate of interval-censored times (Turnbull 1976), which is Kaplan and Meier's where
each end was seen. Within a step's hours it does not say where the share falls. The Weibull distribution is fitted by
SciPy (`weibull_min.fit` of `CensoredData`), which takes a second to load, so it is loaded where it is used.

Lives of one unit are not independent of each other: one rider, one way of riding, one cleaner's habits. So both ranges
come from drawing whole units anew (cluster bootstrap; Field and Welsh 2007), with percentiles. For Turnbull's estimate
that is a rough band only, as for every way of drawing anew where times are interval-censored.
"""

from __future__ import annotations

import math
import warnings
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from workshop.plots.survival import SurvivalStep

CONFIDENCE = 0.95
# How few are too few is the project's own choice, no published source.
FEWEST_FOR_A_CURVE = 3
FEWEST_FOR_A_FIT = 5
DRAWN_ANEW = 200
MOST_APART = 120  # spans; of more, hours are rounded to a hundredth of the longest, so that a page stays quick
_SEED = 20  # the same page twice says the same
_TURNS, _CLOSE, _STEADY, _NOTHING = 60, 1e-6, 1e-10, 1e-6
_Floats = npt.NDArray[np.float64]


class ServiceLife(NamedTuple):
    """A life: it ended after `low` hours and by `high`. The two are equal where the end was seen, `high` is infinite
    where it was still good. `unit` tells units apart."""

    low: float
    high: float
    unit: int


@dataclass(frozen=True)
class Weibull:
    """The fitted distribution: share still good after h hours is exp(-(h / scale)^shape)."""

    shape: float
    scale_hours: float

    def still_good(self, hours: float) -> float:
        return math.exp(-((hours / self.scale_hours) ** self.shape))

    def hours_at(self, share_bad: float) -> float:
        """The hours by which this share was bad."""
        return float(self.scale_hours * (-math.log(1 - share_bad)) ** (1 / self.shape))


@dataclass(frozen=True)
class Survival:
    """What lives say. `steps` are where the share falls; the fit, and its range of one in ten, are None of too few."""

    events: int
    censored: int
    longest_hours: float
    units: int = 0
    steps: tuple[SurvivalStep, ...] = ()
    fit: Weibull | None = None
    tenth_between: tuple[float, float] | None = None

    @property
    def says_something(self) -> bool:
        return self.events >= FEWEST_FOR_A_CURVE

    def hours_at(self, share_bad: float) -> float | None:
        """The hours by which this share was bad, at the latest; None where so many never were."""
        return next((step.hours for step in self.steps if step.share <= 1 - share_bad + 1e-6), None)


@lru_cache(maxsize=64)  # drawing anew takes a good part of a second, and the page is opened again
def survival_of(spans: tuple[ServiceLife, ...]) -> Survival:
    """Estimate from lives.

    Raises:
        ValueError: a life of no hours, or one that ends before it was last good.
    """
    if any(span.high <= 0 or span.low < 0 or span.low > span.high for span in spans):
        raise ValueError("hours: a life has hours above nought, and ends after it was last good")
    known = [span for span in spans if not (span.low == 0 and math.isinf(span.high))]  # the others say nothing
    events = sum(1 for span in known if not math.isinf(span.high))
    longest = max((_last_known(span) for span in known), default=0.0)
    units = len({span.unit for span in known})
    if events < FEWEST_FOR_A_CURVE:
        return Survival(events, len(known) - events, longest, units)
    known = _rounded(known, longest)
    fit = weibull_fit(known) if events >= FEWEST_FOR_A_FIT else None
    between = tenth_between(known, fit) if fit else None
    return Survival(events, len(known) - events, longest, units, turnbull(known), fit, between)


def _last_known(span: ServiceLife) -> float:
    return span.low if math.isinf(span.high) else span.high


def _rounded(spans: Sequence[ServiceLife], longest: float) -> list[ServiceLife]:
    """The spans, of very many on a grid that is no coarser than anybody can read off the drawing."""
    if len(spans) <= MOST_APART:
        return list(spans)
    grid = longest / 100

    def near(hours: float) -> float:
        return hours if math.isinf(hours) else max(round(hours / grid), 1 if hours else 0) * grid

    return [ServiceLife(near(span.low), near(span.high), span.unit) for span in spans]


def turnbull(spans: Sequence[ServiceLife]) -> tuple[SurvivalStep, ...]:
    """The self-consistent estimate with its band, a step for each stretch of hours in which the share falls."""
    cells, within, rows, drawn = _as_arrays(spans)
    weights = np.bincount(rows, minlength=len(within)).astype(float)
    masses = _likeliest(within, weights, np.full(len(cells), 1 / len(cells)))
    again = np.array([_likeliest(within, often, 0.9 * masses + 0.1 / len(cells)) for often in drawn])
    tail = 100 * (1 - CONFIDENCE) / 2
    lows, highs = np.percentile(1 - np.cumsum(again, axis=1), [tail, 100 - tail], axis=0)
    steps: list[SurvivalStep] = []
    share = 1.0
    for (begins, ends), mass, low, high in zip(cells, masses, lows, highs, strict=True):
        if mass <= _NOTHING or math.isinf(ends):
            continue
        share = max(share - float(mass), 0.0)
        share = 0.0 if share < _NOTHING else share
        least, most = (min(max(round(float(limit), 9) + 0.0, 0.0), 1.0) for limit in (low, high))
        steps.append(SurvivalStep(ends, share, min(least, share), max(most, share), begins))
    return tuple(steps)


def _as_arrays(
    spans: Sequence[ServiceLife],
) -> tuple[list[tuple[float, float]], _Floats, npt.NDArray[np.int64], _Floats]:
    """The stretches in which the share can fall, which of them each different span takes in, the span of each life,
    and how often each span is drawn when whole units are drawn anew.

    Such a stretch is from the low end of a span to the next high end with no other end between. A seen end lies at its
    hours, another after the low hours and at the high ones at the latest.
    """
    ends = [((low, 0 if low == high else 2), (high, 1)) for low, high, _ in spans]
    different = sorted(set(ends))
    marks = sorted({(low, False) for low, _ in different} | {(high, True) for _, high in different})
    pairs = [(one[0], other[0]) for one, other in pairwise(marks) if not one[1] and other[1]]
    within = np.array([[float(low <= begin and end <= high) for begin, end in pairs] for low, high in different])
    place = {span: number for number, span in enumerate(different)}
    rows = np.array([place[one] for one in ends], dtype=np.int64)
    of_unit: dict[int, _Floats] = defaultdict(lambda: np.zeros(len(different)))
    for span, row in zip(spans, rows, strict=True):
        of_unit[span.unit][row] += 1
    units = np.array(list(of_unit.values()))
    often = np.random.default_rng(_SEED).multinomial(len(units), [1 / len(units)] * len(units), size=DRAWN_ANEW)
    return [(begin[0], end[0]) for begin, end in pairs], within, rows, often @ units


def _likeliest(within: _Floats, weights: _Floats, masses: _Floats) -> _Floats:
    """The masses of the greatest likelihood, which are the self-consistent ones (Turnbull 1976).

    Sharing spans out again and again, as he did, takes thousands of turns; each turn here solves the likelihood's
    quadratic for masses not below nought and goes as far as it gains (the constrained Newton way of Wang 2008).

    Args:
        within: which stretches each span takes in, spans by stretches.
        weights: how often each span counts.
        masses: where to begin; none is nought.
    """
    from scipy.linalg import cholesky, solve_triangular
    from scipy.optimize import nnls

    within, weights = within[weights > 0], weights[weights > 0]
    total, ones = weights.sum(), np.ones(within.shape[1])
    for _ in range(_TURNS):
        chance = within @ masses
        each = within / chance[:, None]
        slopes = weights @ each
        if slopes.max() <= total * (1 + _CLOSE):
            break
        bent = each - 2
        curve = (bent.T * weights) @ bent / total + 1 + _STEADY * np.eye(len(masses))
        upper = cholesky(curve)
        aim, _ = nnls(upper, solve_triangular(upper, ones, trans="T"))
        towards = aim / aim.sum() - masses
        gain, step = float(slopes @ towards), 1.0
        before = float(weights @ np.log(chance))
        while step > _CLOSE and _log_likelihood(within, weights, masses + step * towards) < before + step * gain / 3:
            step /= 2
        masses = np.maximum(masses + step * towards, 0)
    likeliest: _Floats = masses / masses.sum()
    return likeliest


def _log_likelihood(within: _Floats, weights: _Floats, masses: _Floats) -> float:
    chance = within @ masses
    return float(weights @ np.log(chance)) if chance.min() > 0 else -math.inf


def weibull_fit(spans: Sequence[ServiceLife]) -> Weibull | None:
    """The likeliest Weibull distribution that begins at nought; None where the likelihood has no usable top."""
    from scipy.stats import CensoredData, weibull_min

    mean = sum(_last_known(span) for span in spans) / len(spans)
    scaled = [(span.low / mean, span.high / mean) for span in spans]
    data = CensoredData(
        uncensored=[low for low, high in scaled if low == high],
        left=[high for low, high in scaled if low == 0],
        right=[low for low, high in scaled if math.isinf(high)],
        interval=[(low, high) for low, high in scaled if 0 < low < high and not math.isinf(high)] or None,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # trial values on the way to the top
        try:
            shape, _, scale = weibull_min.fit(data, 1.5, scale=1.0, floc=0)
        except (ValueError, RuntimeError):
            return None
    if not (math.isfinite(shape) and math.isfinite(scale) and shape > 0 and scale > 0):
        return None
    return Weibull(float(shape), float(scale * mean))


def tenth_between(spans: Sequence[ServiceLife], fit: Weibull) -> tuple[float, float]:
    """Between which hours one in ten is bad by the fit, with whole units drawn anew.

    Each drawing takes the likeliest of a grid of distributions around the fit: shapes 5 % apart, scales 4 %.
    """
    shapes = np.clip(fit.shape, 0.3, 12.0) * np.geomspace(1 / 3, 3, 45)
    scales = fit.scale_hours * np.geomspace(1 / 3, 3, 61)
    shape, scale = (grid.ravel()[:, None] for grid in np.meshgrid(shapes, scales))
    _, _, rows, drawn = _as_arrays(spans)
    firsts: dict[int, ServiceLife] = {int(row): span for span, row in zip(spans, rows, strict=True)}
    different = [firsts[row] for row in range(len(firsts))]
    low = np.array([span.low for span in different])[None, :]
    high = np.array([span.high for span in different])[None, :]
    seen = low == high
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        good = np.exp(-((low / scale) ** shape))
        likely = np.log(good - np.exp(-((high / scale) ** shape)))
        exact = np.log(shape / scale) + (shape - 1) * np.log(high / scale) - (high / scale) ** shape
    likely = np.maximum(np.nan_to_num(np.where(seen, exact, likely), nan=-1e6, neginf=-1e6), -1e6)
    best = np.argmax(drawn @ likely.T, axis=1)
    tenths = (scale * (-math.log(0.9)) ** (1 / shape)).ravel()[best]
    tail = 100 * (1 - CONFIDENCE) / 2
    least, most = (float(hours) for hours in np.percentile(tenths, [tail, 100 - tail]))
    return least, most
