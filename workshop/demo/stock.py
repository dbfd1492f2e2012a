"""Prices and stock of the demo shop. All invented."""

from __future__ import annotations

import random
from collections.abc import Mapping
from decimal import Decimal

from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.supplier_models import Supplier, SupplierPart

Role = Part.Role

# Price each, and how many the shop tends to hold (ml for what is poured).
_USUAL: Mapping[str, tuple[str, int]] = {
    Role.WIPER: ("11.50", 8), Role.FOAM_RING: ("2.40", 14), Role.O_RING: ("0.90", 30), Role.FOOT_SEAL: ("3.20", 6),
    Role.CRUSH_WASHER: ("0.80", 40), Role.AIR_SPRING: ("84.00", 1), Role.SPRING_SEAL: ("24.00", 3),
    Role.BUSHING: ("19.00", 4), Role.OIL: ("0.06", 900), Role.GREASE: ("0.12", 400), Role.VARNISH: ("0.55", 30),
    Role.STANCHIONS: ("310.00", 0), Role.DAMPER: ("190.00", 0), Role.DAMPER_SEAL: ("29.00", 2), Role.OTHER: ("7.00", 5),
}  # fmt: skip
# Short on purpose, so that a work order has something to order.
SHORT = frozenset({"HL-FR-35", "HL-WP-36", "HL-SK-CUL"})
_SUPPLIERS = ("Demo supplier North", "Demo supplier South")


def make_stock(*, shop: Shop, by: User, chance: random.Random) -> None:
    """A stock item for each demo part, with one delivery; the parts in SHORT have none left."""
    now = timezone.now()
    items = []
    for number, part in enumerate(Part.objects.filter(is_demo=True).order_by("number")):
        price, usual = _USUAL[part.role]
        items.append(
            StockItem(
                shop=shop,
                part=part,
                price=Decimal(price),
                cost=(Decimal(price) * Decimal("0.6")).quantize(Decimal("0.01")),
                shelf=f"{'ABCDE'[number % 5]}{number // 5 + 1}",
                supplier=_SUPPLIERS[number % 2],
                lead_days=chance.choice((2, 3, 5, 7)),
                reorder_level=Decimal(usual // 4),
            )
        )
    StockItem.objects.bulk_create(items)
    _make_suppliers(shop)
    movements = []
    for item in items:
        usual = _USUAL[item.part.role][1]
        if usual and item.part.number not in SHORT:
            movements.append(
                StockMovement(
                    item=item,
                    kind=StockMovement.Kind.RECEIVED,
                    quantity=Decimal(usual + chance.randint(0, usual)),
                    note="Demo delivery",
                    by=by,
                    at=now,
                )
            )
    StockMovement.objects.bulk_create(movements)


def _make_suppliers(shop: Shop) -> None:
    """What is known of the two suppliers, and the number under which each sells its parts."""
    for name in _SUPPLIERS:
        short = name.rpartition(" ")[2]
        Supplier.objects.update_or_create(
            shop=shop,
            name=name,
            defaults={
                "address": f"1 {short} Quay\nDemo Town",
                "account": f"DEMO-{short[0]}1",
                "terms": "30 days net (demo)",
                "email": f"orders@{short.lower()}.example",
                "usual_days": 4,
            },
        )
    suppliers = {one.name: one for one in Supplier.objects.filter(shop=shop)}
    SupplierPart.objects.bulk_create(
        SupplierPart(item=item, supplier=suppliers[item.supplier], number=f"{item.supplier[-5]}-{4000 + place}")
        for place, item in enumerate(StockItem.objects.filter(shop=shop).order_by("part__number"))
    )
