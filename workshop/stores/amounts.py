"""Amounts of parts as people write them."""

from __future__ import annotations

from decimal import Decimal


def plain(quantity: Decimal) -> str:
    """“2”, “2.5” or “25”: without the noughts that the database keeps."""
    text = f"{quantity:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
