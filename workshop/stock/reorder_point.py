"""From which level on to order again, so that a part seldom runs out before the delivery is there. No Django.

Tickets use a part now and then, independently of each other, so the uses of some days are Poisson distributed; for
many of them the sum is close to a normal distribution, with the variance of a compound Poisson sum, uses times the
mean of the squares of what each took (Ross, Introduction to Probability Models, from memory). `tests/published` checks
both laws.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from scipy.special import ndtr, ndtri, pdtr

LEAST_USES, LEAST_DAYS = 5, 60  # below that a suggestion would be a guess; common practice, no published source
RUNS_OUT = 0.05  # in one of twenty waits
_MANY_USES = 20.0  # within one wait; from there on the normal law
_WHOLE, _TEN = Decimal(1), Decimal(10)


@dataclass(frozen=True)
class Use:
    """What tickets took of a part in the last days: how often, how much together, and the sum of the squares of it."""

    uses: int
    quantity: Decimal
    squares: Decimal
    days: int

    @property
    def is_enough(self) -> bool:
        """Whether there is enough of it to say anything."""
        return self.uses >= LEAST_USES and self.days >= LEAST_DAYS


@dataclass(frozen=True)
class ReorderPoint:
    """Order again when the level is down to `mark`; `chance` is that it runs out while the delivery is waited for.

    `uses` are those expected within one wait.
    """

    mark: Decimal
    chance: float
    uses: float
    lead_days: int
    by_normal_law: bool


def reorder_point(use: Use, *, lead_days: int, poured: bool = False, runs_out: float = RUNS_OUT) -> ReorderPoint | None:
    """The least mark with which a part runs out in no more than `runs_out` of waits; None where too little is known.

    Args:
        lead_days: from the order to the delivery, at least a day is reckoned with.
        poured: marks of ml are whole tens.

    Raises:
        ValueError: `runs_out` is not between 0 and 1.
    """
    if not 0 < runs_out < 1:
        raise ValueError(f"{runs_out} is no chance between 0 and 1")
    if not use.is_enough:
        return None
    uses = use.uses / use.days * max(lead_days, 1)
    each = use.quantity / use.uses
    step = _TEN if poured else _WHOLE
    if uses >= _MANY_USES:
        mean = uses * float(each)
        deviation = (uses * float(use.squares) / use.uses) ** 0.5
        mark = _up(Decimal(mean + float(ndtri(1 - runs_out)) * deviation), step)
        chance = float(ndtr((mean - float(mark)) / deviation))
        return ReorderPoint(mark, chance, uses, lead_days, by_normal_law=True)
    most = 0
    while pdtr(most, uses) < 1 - runs_out:
        most += 1
    return ReorderPoint(_up(most * each, step), 1 - float(pdtr(most, uses)), uses, lead_days, by_normal_law=False)


def chances_of_uses(point: ReorderPoint, most: int) -> list[float]:
    """The chance of 0, 1, … `most` uses within one wait, for a drawing."""
    up_to = [float(pdtr(number, point.uses)) for number in range(most + 1)]
    return [up_to[0], *(later - before for before, later in itertools.pairwise(up_to))]


def _up(amount: Decimal, step: Decimal) -> Decimal:
    return (amount / step).to_integral_value(ROUND_CEILING) * step
