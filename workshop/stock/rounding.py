"""What a price becomes by a change in per cent and a rule of rounding. Decimals only; no Django."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

FINEST = Decimal("0.0001")
MOST = Decimal(999_999)
LEAST_PERCENT, MOST_PERCENT = Decimal(-90), Decimal(300)


@dataclass(frozen=True)
class Changed:
    """The new price, or the old one with `why` it stays."""

    price: Decimal
    why: str = ""


def rounded(price: Decimal, step: Decimal) -> Decimal:
    """To the nearest multiple of a step, half up: 12.34 to 0.05 is 12.35, 12.325 is 12.35, to 1 it is 12."""
    return ((price / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step).quantize(FINEST)


def changed(price: Decimal, percent: Decimal, step: Decimal) -> Changed:
    """A price changed by per cent, and rounded. What is free stays free, and nothing becomes free by rounding."""
    if price == 0:
        return Changed(price, "It is free of charge.")
    new = rounded(price * (100 + percent) / 100, step)
    if new == 0:
        return Changed(price, "Rounded, it would be free.")
    if new > MOST:
        return Changed(price, f"It would be more than {MOST:,}.")
    if percent and (new > price) != (percent > 0) and new != price:
        return Changed(price, "Rounded, it would move the other way.")
    return Changed(new)
