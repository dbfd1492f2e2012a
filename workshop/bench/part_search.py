"""Finding a part by number, words or size, with what the stores have of it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from specs.models import Part
from specs.part_search import matching, read_wanted
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.stock.moving import with_levels
from workshop.stock.stock_list import of_supplier_number

MOST_FOUND = 20


@dataclass(frozen=True)
class PartFound:
    """A part of the list; price, shelf and level are the shop's, None where it does not keep the part."""

    part: Part
    price: Decimal | None
    level: Decimal | None
    shelf: str


def find_parts(shop: Shop, wanted: str) -> list[PartFound]:
    """Parts that are all that is wanted, in two queries however many there are."""
    parts = Part.objects.all()
    for one in read_wanted(wanted):
        theirs = of_supplier_number(shop, one.word).values("item__part")
        parts = parts.filter(matching(one) | Q(pk__in=theirs))
    return found_of(shop, list(parts.order_by("number")[:MOST_FOUND]))


def found_of(shop: Shop, found: list[Part]) -> list[PartFound]:
    """Those parts, with what the stores have of each."""
    kept = with_levels(StockItem.objects.filter(shop=shop, part__in=found))
    items = {item.part_id: item for item in kept}
    return [_found(part, items.get(part.pk)) for part in found]


def _found(part: Part, item: StockItem | None) -> PartFound:
    if item is None:
        return PartFound(part, None, None, "")
    return PartFound(part, item.price, item.level, item.shelf)  # type: ignore[attr-defined]
