"""What the shop's closed tickets say about causes and about the minutes steps take. Pure.

Causes of a complaint, for one spring kind, follow a Dirichlet distribution: the prior weights of the
checklist plus the closed tickets with each cause. A prior weight is worth that many tickets.

Pooling: closed tickets of the same complaint on the other spring kinds enter at a discount, as a power prior
(Ibrahim and Chen 2000) with a ceiling: each counts for ``OTHER_KIND_SHARE`` of a ticket, and all together
for no more than ``OTHER_KIND_CEILING`` tickets. They steer a shop with few tickets of its own kind and are
outweighed as those come in.

A cause's share of tickets then has a Beta distribution, from which its 90 % interval is taken (5 % to 95 %).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from statistics import median

from scipy.special import betaincinv

INTERVAL = 0.9
FEW_TICKETS = 20
OTHER_KIND_SHARE = 0.25
OTHER_KIND_CEILING = 10.0
PLANNED_WORTH_TICKS = 5.0


@dataclass(frozen=True)
class CauseFigure:
    """One cause: its expected share of tickets, 90 % credible interval, and the tickets behind it."""

    cause: str
    share: float
    low: float
    high: float
    tickets: int
    other_kind_tickets: int


@dataclass(frozen=True)
class CauseBeliefs:
    """The causes of a complaint for one spring kind, in the order of the checklist."""

    figures: tuple[CauseFigure, ...]
    tickets: int
    other_kind_tickets: int
    other_kind_weight: float  # what the other kinds' tickets count for, in tickets
    weight: float  # of the prior weights and all tickets together, in tickets

    def with_shares(self, shares: Mapping[str, float]) -> CauseBeliefs:
        """The same tickets with other shares of the causes, no surer than before."""
        figures = tuple(
            replace(figure, share=share, low=low, high=high)
            for figure, share in ((figure, shares[figure.cause]) for figure in self.figures)
            for low, high in (share_interval(share * self.weight, self.weight),)
        )
        return replace(self, figures=figures)

    @property
    def few(self) -> bool:
        """Whether fewer than ``FEW_TICKETS`` closed tickets of this kind stand behind the figures."""
        return self.tickets < FEW_TICKETS

    def beliefs(self) -> dict[str, float]:
        """Cause to chance, summing to 1, as ``diagnosis.ordering`` takes them."""
        return {figure.cause: figure.share for figure in self.figures}


def cause_beliefs(
    prior_weights: Mapping[str, float],
    tickets: Mapping[str, int] | None = None,
    other_kind_tickets: Mapping[str, int] | None = None,
) -> CauseBeliefs:
    """Beliefs in each cause from prior weights and counts of closed tickets by cause.

    ``tickets`` counts those of the same complaint and spring kind, ``other_kind_tickets`` those of the same
    complaint on any other or unknown kind. Tickets closed without a cause are not counted by the caller.
    Raises ``ValueError`` naming the cause for a weight that is not positive, a count below 0 or not whole, or
    a cause without a prior weight.
    """
    own, other = tickets or {}, other_kind_tickets or {}
    _check_weights(prior_weights)
    _check_counts(own, prior_weights)
    _check_counts(other, prior_weights)
    discount = _other_kind_discount(sum(other.values()))
    weights = {
        cause: prior + own.get(cause, 0) + discount * other.get(cause, 0) for cause, prior in prior_weights.items()
    }
    total = math.fsum(weights.values())
    figures = tuple(
        CauseFigure(cause, weight / total, *share_interval(weight, total), own.get(cause, 0), other.get(cause, 0))
        for cause, weight in weights.items()
    )
    return CauseBeliefs(
        figures=figures,
        tickets=sum(own.values()),
        other_kind_tickets=sum(other.values()),
        other_kind_weight=discount * sum(other.values()),
        weight=total,
    )


def pooled_beliefs(
    prior_weights: Mapping[str, float], tickets_by_kind: Mapping[str, Mapping[str, int]], spring_kind: str
) -> CauseBeliefs:
    """``cause_beliefs`` for ``spring_kind`` from counts by spring kind (any name will do) and cause."""
    other: dict[str, int] = {}
    for kind, counts in tickets_by_kind.items():
        if kind != spring_kind:
            for cause, count in counts.items():
                other[cause] = other.get(cause, 0) + count
    return cause_beliefs(prior_weights, tickets_by_kind.get(spring_kind, {}), other)


def share_interval(weight: float, total: float) -> tuple[float, float]:
    """The 90 % credible interval of a cause with ``weight`` out of ``total`` in a Dirichlet distribution.

    Raises ``ValueError`` unless both are finite and the weight positive.
    """
    if not (0.0 < weight < math.inf and total < math.inf):
        raise ValueError(f"an interval needs positive, finite weights, not {weight} of {total}")
    rest = total - weight
    if rest <= 0.0:  # the only cause there is
        return 1.0, 1.0
    tail = (1.0 - INTERVAL) / 2.0
    return float(betaincinv(weight, rest, tail)), float(betaincinv(weight, rest, 1.0 - tail))


def _other_kind_discount(other_tickets: int) -> float:
    if other_tickets == 0:
        return 0.0
    return min(OTHER_KIND_SHARE, OTHER_KIND_CEILING / other_tickets)


def _check_weights(prior_weights: Mapping[str, float]) -> None:
    if not prior_weights:
        raise ValueError("a complaint needs at least one cause with a prior weight")
    for cause, weight in prior_weights.items():
        if not 0.0 < weight < math.inf:
            raise ValueError(f"the prior weight of '{cause}' is {weight}; it must be above 0")


def _check_counts(counts: Mapping[str, int], prior_weights: Mapping[str, float]) -> None:
    for cause, count in counts.items():
        if cause not in prior_weights:
            raise ValueError(f"tickets are counted for '{cause}', which has no prior weight")
        if count < 0 or count != int(count):
            raise ValueError(f"the tickets for '{cause}' are {count}; give a whole number from 0 up")


@dataclass(frozen=True)
class StepMinutes:
    """What a step takes: ``minutes`` to reckon with, the median of the ticks and its 90 % interval.

    ``median`` is None without ticks. ``low`` and ``high`` are None below five ticks, too few for an interval.
    """

    minutes: float
    planned: float
    median: float | None
    low: float | None
    high: float | None
    ticks: int

    @property
    def few(self) -> bool:
        """Whether the planned minutes still weigh as much as the ticks, or more."""
        return self.ticks <= PLANNED_WORTH_TICKS


def step_minutes(planned: float, ticked: Sequence[float]) -> StepMinutes:
    """Minutes of a step from its planned minutes and the minutes between ticks on closed tickets.

    The median of the ticks, because a tablet left over lunch is no work, drawn towards the planned minutes,
    which weigh as much as ``PLANNED_WORTH_TICKS`` ticks. Raises ``ValueError`` for minutes below 0.
    """
    for minutes in (planned, *ticked):
        if not 0.0 <= minutes < math.inf:
            raise ValueError(f"a step takes {minutes} minutes; give a number from 0 up")
    count = len(ticked)
    if count == 0:
        return StepMinutes(planned, planned, None, None, None, 0)
    middle = median(ticked)
    drawn = (PLANNED_WORTH_TICKS * planned + count * middle) / (PLANNED_WORTH_TICKS + count)
    low, high = _median_interval(ticked)
    return StepMinutes(drawn, planned, middle, low, high, count)


def _median_interval(ticked: Sequence[float]) -> tuple[float, float] | tuple[None, None]:
    """The narrowest pair of ticks, as many from either end, that holds the true median nine times in ten."""
    rank = _rank_from_either_end(len(ticked))
    if rank < 0:
        return None, None
    ordered = sorted(ticked)
    return ordered[rank], ordered[len(ticked) - 1 - rank]


@cache
def _rank_from_either_end(count: int) -> int:
    """How many of `count` sorted ticks lie outside at either end; -1 where there are too few for an interval.

    The number of ticks below the median is binomial with chance one half (sign test; Conover, *Practical
    Nonparametric Statistics*).
    """
    tail = (1.0 - INTERVAL) / 2.0
    below, rank = 0.0, -1
    while True:
        below += math.comb(count, rank + 1) / 2**count
        if below > tail:
            return rank
        rank += 1
