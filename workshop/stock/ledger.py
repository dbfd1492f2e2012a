"""What moved an item, with what was there after each movement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.stock.models import StockItem, StockMovement


@dataclass(frozen=True)
class LedgerEntry:
    """A movement, and the sum of all movements up to it."""

    movement: StockMovement
    then_there: Decimal


def ledger_of(item: StockItem, level: Decimal, most: int) -> Sequence[LedgerEntry]:
    """The last `most` movements, the newest first, reckoned back from the level as it is; one query."""
    movements = item.movements.select_related("by", "part_line__ticket", "order_line__order").order_by("-pk")[:most]
    entries = []
    for movement in movements:
        entries.append(LedgerEntry(movement, level))
        level -= movement.quantity
    return entries
