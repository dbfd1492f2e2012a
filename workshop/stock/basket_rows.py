"""What two people make of one row of what is to be ordered: the second is told, and nothing of either is lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from workshop.stock.amounts import measured
from workshop.stock.models import StockItem
from workshop.stock.supplier_models import BasketLine


@dataclass(frozen=True)
class ByHand:
    """What somebody made of a row: how much, from whom, and whether it is to be ordered at all."""

    quantity: Decimal
    supplier: str
    left_out: bool


@dataclass(frozen=True)
class SeenRow:
    """A row as a page showed it, and the mark of what was changed by hand of it then."""

    shown: ByHand
    hand: str


class RowsChanged(ValueError):
    """Somebody else changed rows since the page was opened. Nothing is kept; `reasons` says it by the item's key."""

    def __init__(self, reasons: Mapping[int, str]) -> None:
        super().__init__(f"{' '.join(reasons.values())} Look at it, then press again.")
        self.reasons = reasons


def mark_of(hand: BasketLine | None) -> str:
    """Another one each time that somebody changes a row; "" for one that nobody changed."""
    return "" if hand is None else hand.at.isoformat()


def refuse_changed(rows: Mapping[int, ByHand], hands: Mapping[int, str]) -> None:
    """Raise RowsChanged for rows that somebody changed by hand since `hands`, their marks by item, and otherwise."""
    items = StockItem.objects.filter(pk__in=[pk for pk in rows if pk in hands]).select_related("part")
    now = {line.item_id: line for line in BasketLine.objects.filter(item__in=items).select_related("by")}
    reasons = {
        item.pk: _said_of(item, now.get(item.pk), rows[item.pk])
        for item in items
        if mark_of(now.get(item.pk)) != hands[item.pk] and not _is_the_same(item, now.get(item.pk), rows[item.pk])
    }
    if reasons:
        raise RowsChanged(reasons)


def _said_of(item: StockItem, hand: BasketLine | None, typed: ByHand) -> str:
    """What somebody else made of a row meanwhile, beside what was typed."""
    title = item.part.description
    if hand is None:
        return f"“{title}” was set back to what is suggested meanwhile; you have {_in_words(item, typed)}."
    theirs = ByHand(hand.quantity or Decimal(0), hand.supplier or item.supplier, hand.left_out)
    who = hand.by or "Somebody"
    return f"“{title}”: {who} made it {_in_words(item, theirs)} meanwhile; you have {_in_words(item, typed)}."


def _is_the_same(item: StockItem, hand: BasketLine | None, typed: ByHand) -> bool:
    """Whether what is kept of a row is what was typed."""
    if hand is None:
        return False
    kept = (hand.quantity, hand.supplier or item.supplier, hand.left_out)
    return kept == (typed.quantity, typed.supplier or item.supplier, typed.left_out)


def _in_words(item: StockItem, one: ByHand) -> str:
    from_whom = f" from {one.supplier}" if one.supplier else ""
    return "left out" if one.left_out else f"{measured(one.quantity, item.part)}{from_whom}"
