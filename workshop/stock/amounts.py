"""Amounts of parts as people write them."""

from __future__ import annotations

from decimal import Decimal

from specs.models import Part
from workshop.web.number_words import figures


def unit_of_stock(part: Part | None) -> str:
    """“ml” for what is poured; "" for anything else, a part in words included."""
    return "ml" if part is not None and part.measure == Part.Measure.ML else ""


def measured(quantity: Decimal, part: Part | None) -> str:
    """“24 ml” of what is poured, “2” of anything else, a part in words included."""
    return f"{figures(quantity)} {unit_of_stock(part)}".strip()


def amount_of(quantity: str, unit: str, title: str) -> str:
    """“24 ml of Fell Fluid 5”, “2 × Wiper, 36 mm”: 24 × oil would be 24 bottles."""
    return f"{quantity} {unit} of {title}" if unit else f"{quantity} × {title}"


def amount_in_words(quantity: Decimal, part: Part | None, title: str) -> str:
    """An amount of a part, as amount_of has it."""
    return amount_of(figures(quantity), unit_of_stock(part), title)


MOST_BOTTLES = 99  # more is ml typed for bottles


class TooManyBottles(ValueError):
    """More bottles than come at once; the message says how much that would be."""


def in_ml(bottles: Decimal, bottle_ml: Decimal) -> Decimal:
    """What so many bottles hold, to a hundredth of a ml. Raises TooManyBottles where it must have been ml."""
    held = (bottles * bottle_ml).quantize(Decimal("0.01"))
    if bottles > MOST_BOTTLES:
        raise TooManyBottles(
            f"{figures(bottles)} bottles would be {figures(held)} ml. Enter bottles of {figures(bottle_ml)} ml, "
            f"at most {MOST_BOTTLES} at a time."
        )
    return held


def bottles_in_words(level_ml: Decimal, bottle_ml: Decimal | None) -> str:
    """What stands on the shelf of something poured: “2 full bottles and 130 ml in the open one”; "" where not known."""
    if bottle_ml is None or level_ml <= 0:
        return ""
    full, open_ml = divmod(level_ml, bottle_ml)
    words = [f"{full:.0f} full bottle{'s' if full != 1 else ''}"] if full else []
    if open_ml:
        words.append(f"{figures(open_ml)} ml in the open one")
    return " and ".join(words)
