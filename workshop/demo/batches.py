"""Batches of what the demo shop pours: opened bottles, some to be used soon, one out of date. All invented."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop, User
from workshop.stock.batch_models import Batch
from workshop.stock.batches import level_in, open_bottle, put_into_batch, receive_batch, without_batch
from workshop.stock.first_expiring import NOTHING
from workshop.stock.models import StockItem

Role = Part.Role
_POURED = (Role.OIL, Role.GREASE, Role.VARNISH)
_OPENED = 3  # of so many parts a bottle is open


def make_batches(*, shop: Shop, by: User) -> None:
    """All that is there of oils, greases and varnish is of one batch each, before the tickets take of it."""
    today = timezone.localdate()
    for place, item in enumerate(_poured(shop)):
        there = without_batch(item)
        if there > 0:
            use_by = today + dt.timedelta(days=300 + 60 * place)
            put_into_batch(item=item, batch_number=_number(item, "A"), use_by=use_by, quantity=there, by=by)


def age_batches(*, shop: Shop, by: User) -> None:
    """After the tickets: opened bottles, oil to be used soon, and grease that is out of date."""
    today = timezone.localdate()
    items = list(_poured(shop))
    for days, item in enumerate(items[:_OPENED], 1):
        batch = Batch.objects.filter(item=item, number=_number(item, "A")).first()
        there = NOTHING if batch is None else level_in(batch)  # a long past is made before levels are kept
        if batch is None or there <= 0:
            continue
        bottle = item.part.bottle_ml
        open_bottle(
            batch=batch,
            quantity=there if bottle is None else min(there, bottle),
            opened_on=today - dt.timedelta(days=20 * days),
            use_by=today + dt.timedelta(days=9 * days),
            seen_version=batch.version,
            by=by,
        )
    soon = items[_OPENED]
    _another(soon, "B", today + dt.timedelta(days=18), by)
    over = next(item for item in items if item.part.role == Role.GREASE)
    _another(over, "OLD", today - dt.timedelta(days=40), by)


def _poured(shop: Shop) -> list[StockItem]:
    items = StockItem.objects.filter(shop=shop, part__role__in=_POURED).select_related("part")
    return list(items.order_by("part__role", "part__number"))


def _another(item: StockItem, letter: str, use_by: dt.date, by: User) -> None:
    receive_batch(
        item=item,
        quantity=item.part.bottle_ml or Decimal(1),
        by=by,
        note="Demo delivery",
        batch_number=_number(item, letter),
        use_by=use_by,
    )


def _number(item: StockItem, letter: str) -> str:
    return f"DEMO-{item.part.number.rpartition('-')[2]}-{letter}"
