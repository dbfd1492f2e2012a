"""Amounts of parts as people write them."""

from __future__ import annotations

from decimal import Decimal


def plain(quantity: Decimal) -> str:
    """“2”, “2.5” or “25”: without the noughts that the database keeps."""
    text = f"{quantity:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def bottles_in_words(level_ml: Decimal, bottle_ml: Decimal | None) -> str:
    """What stands on the shelf of something poured: “2 full bottles and 130 ml in the open one”; "" where not known."""
    if bottle_ml is None or level_ml <= 0:
        return ""
    full, open_ml = divmod(level_ml, bottle_ml)
    words = [f"{full:.0f} full bottle{'s' if full != 1 else ''}"] if full else []
    if open_ml:
        words.append(f"{plain(open_ml)} ml in the open one")
    return " and ".join(words)
