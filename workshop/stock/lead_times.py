"""How long a supplier takes, learned from its deliveries; what was set by hand holds until there are enough."""

from __future__ import annotations

import datetime as dt
import statistics
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Min
from django.utils import timezone

from workshop.staff.models import Shop
from workshop.stock.delivery_models import Delivery
from workshop.stock.supplier_models import Supplier

LEAST_DELIVERIES = 3
WINDOW_DAYS = 730


@dataclass(frozen=True)
class LeadTime:
    """Days to deliver; None where nobody knows. `deliveries` is how many there were, `learned` whether they say it."""

    days: int | None
    deliveries: int
    learned: bool


def lead_time(days: list[int], usual_days: int | None) -> LeadTime:
    """The median of the days each order took, half a day rounded up; the usual days while there are too few."""
    if len(days) < LEAST_DELIVERIES:
        return LeadTime(usual_days, len(days), learned=False)
    return LeadTime(int(statistics.median(days) + 0.5), len(days), learned=True)


def lead_time_of(supplier: Supplier) -> LeadTime:
    """Of one supplier; one query."""
    return lead_time(_days_taken(supplier.shop, supplier.name)[supplier.name], supplier.usual_days)


def lead_times(shop: Shop) -> dict[str, LeadTime]:
    """Of every supplier, by its name; two queries."""
    taken = _days_taken(shop)
    usual = Supplier.objects.filter(shop=shop).values_list("name", "usual_days")
    return {name: lead_time(taken[name], days) for name, days in usual}


def learned_days(shop: Shop) -> dict[str, int]:
    """Of the suppliers of which enough deliveries say it, by name; one query."""
    known = ((name, lead_time(days, None)) for name, days in _days_taken(shop).items())
    return {name: lead.days for name, lead in known if lead.days is not None}


def _days_taken(shop: Shop, name: str | None = None) -> defaultdict[str, list[int]]:
    """From the day an order was sent to the day the first of it came, where somebody said that it was sent."""
    since = timezone.now() - dt.timedelta(days=WINDOW_DAYS)
    rows = Delivery.objects.filter(order__shop=shop, undone_at__isnull=True, order__sent_at__gte=since)
    if name is not None:
        rows = rows.filter(order__supplier=name)
    first = rows.order_by().values_list("order__supplier", "order", "order__sent_at").annotate(came=Min("at"))
    taken: defaultdict[str, list[int]] = defaultdict(list)
    for supplier, _, sent_at, came_at in first:
        taken[supplier].append(max((timezone.localdate(came_at) - timezone.localdate(sent_at)).days, 0))
    return taken
