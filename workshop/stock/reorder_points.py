"""What the stores' movements say of where to order again: uses by tickets, and days from order to delivery."""

from __future__ import annotations

import datetime as dt
import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Min, OuterRef, QuerySet, Subquery, Sum
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.purchase_models import OrderLine
from workshop.stock.reorder_point import LEAST_USES, ReorderPoint, Use, reorder_point
from workshop.web.days import start_of
from workshop.web.versions import take_version

WINDOW_DAYS = 365
LEAST_DELIVERIES = 3
_NOTHING = Use(0, Decimal(0), Decimal(0), 0)


@dataclass(frozen=True)
class Suggestion:
    """What is known of one item, and the mark that follows from it; `point` is None where too little is known.

    `lead_days` are those entered, or learned from the last deliveries (`learned`); None where nobody knows.
    """

    item: StockItem
    use: Use
    lead_days: int | None
    learned: bool
    point: ReorderPoint | None

    @property
    def differs(self) -> bool:
        return self.point is not None and self.point.mark != self.item.reorder_level


def suggestions_of(shop: Shop, item: StockItem | None = None) -> list[Suggestion]:
    """For one item, or all that tickets took often enough, by part number; four queries however many."""
    items = StockItem.objects.filter(shop=shop).select_related("part").order_by("part__number")
    moved = StockMovement.objects.filter(item__shop=shop)
    if item is not None:
        items, moved = items.filter(pk=item.pk), moved.filter(item=item)
    uses = _uses(moved)
    if item is None:
        items = items.filter(pk__in=[pk for pk, use in uses.items() if use.is_enough])
    rows = list(items)
    leads = _learned_leads([one.pk for one in rows if one.lead_days is None])
    found = []
    for one in rows:
        lead = leads.get(one.pk) if one.lead_days is None else one.lead_days
        use = uses.get(one.pk, _NOTHING)
        poured = one.part.measure == Part.Measure.ML
        point = None if lead is None else reorder_point(use, lead_days=lead, poured=poured)
        found.append(Suggestion(one, use, lead, one.lead_days is None and lead is not None, point))
    return found


@transaction.atomic
def take_mark(*, item: StockItem, mark: Decimal, seen_version: int, by: User | None) -> StockItem:
    """Reorder point `mark` from now on. Raises StaleVersion, ValidationError."""
    take_version(item, seen_version)
    item.reorder_level = mark
    item.full_clean(exclude=["shop", "part"])
    item.save(update_fields=["reorder_level", "version"])
    return item


def _uses(moved: QuerySet[StockMovement]) -> dict[int, Use]:
    """What each line of a ticket took of each item and did not give back; days count from the item's first movement."""
    today = timezone.localdate()
    lines = (
        moved.filter(at__gte=start_of(today - dt.timedelta(days=WINDOW_DAYS)), part_line__isnull=False)
        .order_by()
        .values_list("item", "part_line")
        .annotate(Sum("quantity"), Min("at"))
    )
    taken: dict[int, list[Decimal]] = defaultdict(list)
    seen: dict[int, list[dt.datetime]] = defaultdict(list)
    for item, _, quantity, at in lines:
        if quantity < 0:
            taken[item].append(-quantity)
            seen[item].append(at)
    often = [item for item, each in taken.items() if len(each) >= LEAST_USES]
    earliest = StockMovement.objects.filter(item=OuterRef("pk")).order_by("pk").values("at")[:1]
    for item, at in StockItem.objects.filter(pk__in=often).values_list("pk", Subquery(earliest)):
        seen[item].append(at)
    return {
        item: Use(
            uses=len(each),
            quantity=sum(each, Decimal(0)),
            squares=sum((one * one for one in each), Decimal(0)),
            days=min((today - timezone.localtime(min(seen[item])).date()).days, WINDOW_DAYS),
        )
        for item, each in taken.items()
    }


def _learned_leads(unknown: Sequence[int]) -> dict[int, int]:
    """The median of days from an order to its first delivery, of items that nobody entered days for."""
    lines = (
        OrderLine.objects.filter(item__in=unknown, movements__isnull=False)
        .order_by()
        .values_list("item", "order__ordered_at", "pk")
        .annotate(Min("movements__at"))
    )
    days: dict[int, list[int]] = defaultdict(list)
    for item, ordered_at, _, came_at in lines:
        days[item].append(max((came_at - ordered_at).days, 0))
    return {item: round(statistics.median(each)) for item, each in days.items() if len(each) >= LEAST_DELIVERIES}
