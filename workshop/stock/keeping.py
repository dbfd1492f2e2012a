"""What the shop keeps of a part: where, at what price, and when to order again."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop, User
from workshop.stock.models import PriceChange, StockItem


@transaction.atomic
def keep_part(
    *,
    shop: Shop,
    part: Part,
    price: Decimal,
    cost: Decimal | None = None,
    shelf: str = "",
    supplier: str = "",
    lead_days: int | None = None,
    reorder_level: Decimal = Decimal(0),
    by: User | None = None,
) -> StockItem:
    """Give a part a place in the stores. Raises ValidationError if it has one."""
    item = StockItem(shop=shop, part=part)
    return change_item(
        item=item,
        price=price,
        cost=cost,
        shelf=shelf,
        supplier=supplier,
        lead_days=lead_days,
        reorder_level=reorder_level,
        by=by,
    )


@transaction.atomic
def change_item(
    *,
    item: StockItem,
    price: Decimal,
    cost: Decimal | None,
    shelf: str,
    supplier: str,
    lead_days: int | None,
    reorder_level: Decimal,
    by: User | None,
) -> StockItem:
    """Other terms for an item; its level only moves by movements. Raises ValidationError.

    Another price or cost than the one that is stored leaves its trace: who, when, from what to what.
    """
    stored = StockItem.objects.filter(pk=item.pk).values("price", "cost").first() if item.pk else None
    item.price, item.cost, item.shelf, item.supplier = price, cost, shelf.strip(), supplier.strip()
    item.lead_days, item.reorder_level = lead_days, reorder_level
    item.full_clean()
    item.save()
    if stored is not None:
        _trace(item, PriceChange.What.PRICE, stored["price"], price, by)
        _trace(item, PriceChange.What.COST, stored["cost"], cost, by)
    return item


def _trace(item: StockItem, what: str, old: Decimal | None, new: Decimal | None, by: User | None) -> None:
    if old != new:
        PriceChange.objects.create(item=item, what=what, old=old, new=new, by=by, at=timezone.now())
