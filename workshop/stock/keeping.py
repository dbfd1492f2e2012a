"""What the shop keeps of a part: where, at what price, and when to order again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop, User
from workshop.staff.roles import Right
from workshop.stock.models import PriceChange, StockItem
from workshop.stock.price_models import NewPrice
from workshop.stock.price_updates import keep_update
from workshop.stock.suppliers import name_as_kept


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
    prices_from: dt.date | None = None,
) -> StockItem:
    """Other terms for an item; its level only moves by movements.

    Another price or cost than the one that is stored leaves its trace: who, when, from what to what.

    Args:
        prices_from: the day from which another price or cost holds, all else holds now; None for now.

    Raises:
        ValidationError: terms that cannot be, a day that is over, or another price from somebody who sets none.
    """
    stored = StockItem.objects.filter(pk=item.pk).values("price", "cost").first() if item.pk else None
    if stored is not None and stored != {"price": price, "cost": cost}:
        _check_sets_prices(by)
        if prices_from is not None and prices_from != timezone.localdate():
            prices = (NewPrice.What.PRICE, stored["price"], price), (NewPrice.What.COST, stored["cost"], cost)
            _keep_for(item, prices_from, prices, by)
            price, cost = stored["price"], stored["cost"]
    supplier_now = supplier if supplier == item.supplier else name_as_kept(item.shop, supplier)
    item.price, item.cost, item.shelf, item.supplier = price, cost, shelf.strip(), supplier_now
    item.lead_days, item.reorder_level = lead_days, reorder_level
    item.full_clean()
    item.save()
    if stored is not None:
        _trace(item, PriceChange.What.PRICE, stored["price"], price, by)
        _trace(item, PriceChange.What.COST, stored["cost"], cost, by)
    return item


def _check_sets_prices(by: User | None) -> None:
    if by is not None and not by.may(Right.SET_PRICES):
        raise ValidationError({"price": "The owner sets prices and costs, or whom they allow to."})


def _keep_for(
    item: StockItem,
    day: dt.date,
    prices: Iterable[tuple[str, Decimal | None, Decimal | None]],
    by: User | None,
) -> None:
    """Keep other prices for a day: of each what it is, what is stored and what it becomes."""
    lines = [NewPrice(item=item, what=what, old=old, new=new) for what, old, new in prices if new != old]
    for line in lines:
        line.clean_fields(exclude=["update", "item"])
    try:
        keep_update(shop=item.shop, words=f"Of {item.part}", from_on=day, lines=lines, by=by)
    except ValidationError as refused:
        raise ValidationError({"prices_from": refused.messages}) from None


def _trace(item: StockItem, what: str, old: Decimal | None, new: Decimal | None, by: User | None) -> None:
    if old != new:
        PriceChange.objects.create(item=item, what=what, old=old, new=new, by=by, at=timezone.now())
