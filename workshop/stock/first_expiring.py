"""Which batch an amount is taken from: the first to expire, first. Decimals and days only; no Django.

First expired, first out is common practice, no published source. What is out of date comes last of all, so that it
is never taken while anything else is there.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

NOTHING = Decimal(0)
CENT = Decimal("0.01")


@dataclass(frozen=True)
class Held:
    """What is there of one batch; `key` is None for what is there without a batch."""

    key: int | None
    level: Decimal
    use_by: dt.date | None = None
    opened: bool = False

    def is_over(self, today: dt.date) -> bool:
        return self.use_by is not None and self.use_by < today


def first_expiring(held: Iterable[Held], today: dt.date) -> list[Held]:
    """In the order in which they are to be used: in date before out of date, the first to expire, opened before closed.

    One without a use-by day comes after those that have one, and what has no batch after those.
    """

    def turn(one: Held) -> tuple[bool, bool, bool, dt.date, bool, int]:
        unknown = one.use_by is None
        return one.is_over(today), one.key is None, unknown, one.use_by or today, not one.opened, one.key or 0

    return sorted((one for one in held if one.level > 0), key=turn)


def dealt(order: Sequence[Held], quantity: Decimal, first: Collection[int | None] = ()) -> list[tuple[Held, Decimal]]:
    """How much is taken from each, `first` from those keys. It is less than `quantity` where less is there."""
    chosen = [one for one in order if one.key in first] + [one for one in order if one.key not in first]
    taken = []
    for one in chosen:
        amount = min(one.level, quantity)
        if amount > 0:
            taken.append((one, amount))
            quantity -= amount
    return taken


def shares_of(value: Decimal, levels: Sequence[Decimal]) -> list[Decimal]:
    """A value to the cent, shared out by level to the cent; the shares add up to it (largest remainders)."""
    total = sum(levels, NOTHING)
    if total <= 0:
        return [NOTHING for _ in levels]
    exact = [value * level / total for level in levels]
    shares = [one.quantize(CENT, rounding="ROUND_FLOOR") for one in exact]
    left = int((value - sum(shares, NOTHING)) / CENT)
    by_remainder = sorted(range(len(levels)), key=lambda place: (shares[place] - exact[place], place))
    for place in by_remainder[:left]:
        shares[place] += CENT
    return shares
