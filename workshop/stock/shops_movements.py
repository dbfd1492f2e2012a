"""The movements of one shop, where several share a database."""

from __future__ import annotations

from django.db import connection
from django.db.models import QuerySet

from workshop.staff.models import Shop
from workshop.stock.models import StockItem, StockMovement

# Named one by one, the items of a small shop are found by the index; by way of their shop PostgreSQL, which knows how
# many movements an item has on average only, reads those of every shop.
_NAMED = 1_000


def shops_movements(shop: Shop) -> QuerySet[StockMovement]:
    """On PostgreSQL it asks for the items at once; for the movements when they are read."""
    by_way_of_shop = StockMovement.objects.filter(item__shop=shop)
    if connection.vendor != "postgresql":
        return by_way_of_shop
    items = list(StockItem.objects.filter(shop=shop).order_by("pk").values_list("pk", flat=True)[: _NAMED + 1])
    return by_way_of_shop if len(items) > _NAMED else StockMovement.objects.filter(item__in=items)
