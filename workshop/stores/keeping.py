"""What the shop keeps of a part: where, at what price, and when to order again."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from specs.models import Part
from workshop.staff.models import Shop
from workshop.stores.models import StockItem


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
) -> StockItem:
    """Other terms for an item; its level only moves by movements. Raises ValidationError."""
    item.price, item.cost, item.shelf, item.supplier = price, cost, shelf.strip(), supplier.strip()
    item.lead_days, item.reorder_level = lead_days, reorder_level
    item.full_clean()
    item.save()
    return item
