"""The share still good after so many hours, from lives some of which are not over: Kaplan-Meier and Weibull. No Django.

SciPy does both: `scipy.stats.ecdf` (Kaplan and Meier 1958, with Greenwood's variance and the log-log confidence
limits) and the maximum likelihood fit of `scipy.stats.weibull_min`, each with right-censored data. It takes a second
to load, so it is loaded where it is used.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

from workshop.plots.survival import SurvivalStep

CONFIDENCE = 0.95
# How few are too few is the project's own choice, no published source.
FEWEST_FOR_A_CURVE = 3
FEWEST_FOR_A_FIT = 5


@dataclass(frozen=True)
class Weibull:
    """The fitted distribution: share still good after h hours is exp(-(h / scale)^shape)."""

    shape: float
    scale_hours: float

    def still_good(self, hours: float) -> float:
        return math.exp(-((hours / self.scale_hours) ** self.shape))

    def hours_at(self, share_bad: float) -> float:
        """The hours by which this share was found bad."""
        return float(self.scale_hours * (-math.log(1 - share_bad)) ** (1 / self.shape))


@dataclass(frozen=True)
class Survival:
    """What lives say. `steps` are at the hours at which something was found bad; the fit is None of too few."""

    events: int
    censored: int
    longest_hours: float
    steps: tuple[SurvivalStep, ...] = ()
    fit: Weibull | None = None

    @property
    def says_something(self) -> bool:
        return self.events >= FEWEST_FOR_A_CURVE

    def hours_at(self, share_bad: float) -> float | None:
        """The hours by which this share was found bad, as seen; None where so many never were."""
        return next((step.hours for step in self.steps if step.share <= 1 - share_bad + 1e-9), None)


def survival_of(lives: Sequence[tuple[float, bool]]) -> Survival:
    """Estimate from lives, each its hours and whether it ended by being found bad.

    Raises:
        ValueError: a life of no hours, or of less.
    """
    if any(hours <= 0 for hours, _ in lives):
        raise ValueError("hours: a life has hours above nought")
    events = sum(1 for _, bad in lives if bad)
    longest = max((hours for hours, _ in lives), default=0.0)
    if events < FEWEST_FOR_A_CURVE:
        return Survival(events, len(lives) - events, longest)
    fit = weibull_fit(lives) if events >= FEWEST_FOR_A_FIT else None
    return Survival(events, len(lives) - events, longest, product_limit(lives), fit)


def product_limit(lives: Sequence[tuple[float, bool]]) -> tuple[SurvivalStep, ...]:
    """The Kaplan-Meier estimate with its confidence limits, a step for each time something was found bad."""
    from scipy.stats import CensoredData, ecdf

    hours, censored = [life[0] for life in lives], [not life[1] for life in lives]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # log of 0 where none or all are left; put right below
        estimate = ecdf(CensoredData.right_censored(hours, censored)).sf
        limits = estimate.confidence_interval(CONFIDENCE, method="log-log")
    steps: list[SurvivalStep] = []
    before, high_before = 1.0, 1.0
    for at, share, low, high in zip(
        estimate.quantiles, estimate.probabilities, limits.low.probabilities, limits.high.probabilities, strict=True
    ):
        if share < before - 1e-12:
            high_before = high_before if math.isnan(high) else float(high)
            steps.append(SurvivalStep(float(at), float(share), 0.0 if math.isnan(low) else float(low), high_before))
            before = float(share)
    return tuple(steps)


def weibull_fit(lives: Sequence[tuple[float, bool]]) -> Weibull | None:
    """The likeliest Weibull distribution that begins at nought; None where the likelihood has no usable top."""
    from scipy.stats import CensoredData, weibull_min

    mean = sum(hours for hours, _ in lives) / len(lives)
    data = CensoredData.right_censored([hours / mean for hours, _ in lives], [not bad for _, bad in lives])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # trial values on the way to the top
        try:
            shape, _, scale = weibull_min.fit(data, floc=0)
        except (ValueError, RuntimeError):
            return None
    if not (math.isfinite(shape) and math.isfinite(scale) and shape > 0 and scale > 0):
        return None
    return Weibull(float(shape), float(scale * mean))
