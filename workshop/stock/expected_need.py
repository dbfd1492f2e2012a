"""What may be wanted: the chance that a ticket takes a part, and what several such chances come to. No Django.

The chance is that of the next ticket in a beta-binomial model: what is believed beforehand is worth so many tickets,
and the shop's own closed tickets are added to it. Tickets are taken as independent of each other, so how much is taken
in all follows a Poisson binomial distribution, each ticket with its own amount.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import prod

NOTHING = Decimal(0)
LIKELY = 0.5
"""From here on a promise reckons with it. The project's own choice, no published source."""
WORTH_NAMING = 0.05
"""Less likely than that is not listed at all. The project's own choice, no published source."""
_IN_WORDS = ((0.9, "almost certain"), (0.6, "likely"), (0.4, "as likely as not"), (0.1, "unlikely"), (0.0, "seldom"))


@dataclass(frozen=True)
class Belief:
    """What is believed beforehand: tickets that took the part, of so many; neither need be whole."""

    took: float
    tickets: float

    def after(self, took: int, tickets: int) -> float:
        """The chance that the next ticket takes it, once `took` of `tickets` closed ones did.

        Raises ValueError for counts that cannot be.
        """
        if not 0 <= took <= tickets:
            raise ValueError(f"{took} of {tickets} tickets cannot have taken a part")
        return (self.took + took) / (self.tickets + tickets)


@dataclass(frozen=True)
class Chance:
    """That a ticket takes so much of a part."""

    ticket_pk: int
    number: int
    promised_on: dt.date
    quantity: Decimal
    chance: float

    @property
    def is_likely(self) -> bool:
        return self.chance >= LIKELY

    @property
    def words(self) -> str:
        return chance_in_words(self.chance)


def any_of(chances: Iterable[float]) -> float:
    """That at least one of several independent reasons holds."""
    return 1.0 - prod(1.0 - chance for chance in chances)


def expected_amount(wants: Iterable[Chance]) -> Decimal:
    """What they take on average, to a tenth."""
    return sum((want.quantity * Decimal(str(want.chance)) for want in wants), NOTHING).quantize(Decimal("0.1"))


def chance_of_more_than(free: Decimal, wants: Sequence[Chance]) -> float:
    """That they take more of a part than is free: exact, by adding one ticket after the other."""
    free = max(free, NOTHING)
    taken: dict[Decimal, float] = {NOTHING: 1.0}  # what is above `free` already stays above it and is left out
    for want in wants:
        after: dict[Decimal, float] = defaultdict(float)
        for amount, chance in taken.items():
            after[amount] += chance * (1.0 - want.chance)
            if amount + want.quantity <= free:
                after[amount + want.quantity] += chance * want.chance
        taken = after
    return max(0.0, 1.0 - sum(taken.values()))


def chance_in_words(chance: float) -> str:
    """As “likely, about 7 in 10”."""
    word = next(word for least, word in _IN_WORDS if chance >= least)
    tenths = round(chance * 10)
    if word == "seldom":
        return "seldom, less than 1 in 10"
    return word if tenths >= 10 else f"{word}, about {tenths} in 10"
