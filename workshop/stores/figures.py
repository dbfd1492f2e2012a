"""Quantities as people write them."""

from __future__ import annotations

from decimal import Decimal


def figures(quantity: Decimal) -> str:
    """Without trailing noughts: 2, 2.5, 25."""
    return f"{quantity.quantize(Decimal('0.01')).normalize():f}"
