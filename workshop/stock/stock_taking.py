"""A stock-take: what lies on a shelf is counted and becomes the level, unless it moved meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from workshop.staff.models import Shop, User
from workshop.stock.amounts import measured
from workshop.stock.models import StockItem
from workshop.stock.moving import count, level_of


@dataclass(frozen=True)
class CountedItem:
    """What was counted of an item, and the level that the list showed."""

    item_pk: int
    counted: Decimal
    seen_level: Decimal


class MovedMeanwhile(ValueError):
    """Something was used or received while it was counted; nothing of the list is kept."""

    def __init__(self, items: Sequence[tuple[StockItem, Decimal]]) -> None:
        named = ", ".join(f"“{item.part.description}” (now {measured(level, item.part)})" for item, level in items)
        super().__init__(f"These moved while you counted: {named}. Count them again; the rest of your list is kept.")
        self.item_pks = {item.pk for item, _ in items}


@transaction.atomic
def take_stock(*, shop: Shop, counts: Sequence[CountedItem], by: User | None) -> int:
    """Book every difference, or nothing. Returns how many items differed. Raises MovedMeanwhile, ValidationError."""
    wanted = {entry.item_pk: entry for entry in counts}
    items = StockItem.objects.select_for_update(of=("self",)).select_related("part")
    moved, differed = [], 0
    for item in items.filter(shop=shop, pk__in=wanted).order_by("pk"):
        entry, level = wanted[item.pk], level_of(item)
        if level != entry.seen_level:
            moved.append((item, level))
        elif count(item=item, counted=entry.counted, by=by, note="Stock-take") is not None:
            differed += 1
    if moved:
        raise MovedMeanwhile(moved)
    return differed
