"""Ordering from a supplier, and what comes in of it: never more than was ordered."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone

from workshop.staff.models import Shop, User
from workshop.stock.amounts import measured
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.moving import NOTHING, receive_for_order
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import StaleVersion, take_version


class MoreThanOrdered(ValueError):
    """More would come in than is still to come of some lines. Nothing of the delivery was received.

    `reasons` says it by the key of each line.
    """

    def __init__(self, lines: Sequence[tuple[OrderLine, Decimal, Decimal]]) -> None:
        self.reasons = {
            line.pk: f"{measured(came, line.item.part)} is more than the {measured(open_quantity, line.item.part)} "
            "still to come of this order. "
            "Receive what was ordered here, and the rest at the part itself."
            for line, open_quantity, came in lines
        }
        super().__init__(" ".join(f"{line.item.part.description}: {self.reasons[line.pk]}" for line, _, _ in lines))


class OrderClosed(ValueError):
    """The order is closed; nothing more comes of it."""


@transaction.atomic
def place_order(
    *, shop: Shop, supplier: str, quantities: Mapping[int, Decimal], by: User | None, note: str = ""
) -> PurchaseOrder:
    """Order items (by their key) from one supplier.

    Raises:
        ValidationError: nothing was chosen, a quantity is not above zero, or an item is not from that supplier.
    """
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)  # the next number is given once
    if not quantities:
        raise ValidationError("Choose at least one part to order.")
    if not supplier.strip():
        raise ValidationError("Say from which supplier: the parts have none. Set it at each part first.")
    items = {item.pk: item for item in StockItem.objects.filter(shop=shop, pk__in=quantities).select_related("part")}
    if set(items) != set(quantities):
        raise ValidationError("A part is no longer kept. Look at the list again.")
    for pk, quantity in quantities.items():
        if quantity <= 0:
            raise ValidationError(f"Enter a quantity above zero for “{items[pk].part.description}”.")
        if items[pk].supplier != supplier:
            raise ValidationError(f"“{items[pk].part.description}” does not come from {supplier}.")
    now = timezone.now()
    lead_days = [item.lead_days for item in items.values() if item.lead_days is not None]
    newest = PurchaseOrder.objects.filter(shop=shop).aggregate(newest=Max("number"))["newest"]
    order = PurchaseOrder(
        shop=shop,
        number=(newest or 0) + 1,
        supplier=supplier.strip(),
        note=note.strip(),
        expected_on=timezone.localdate(now) + dt.timedelta(days=max(lead_days)) if lead_days else None,
        ordered_at=now,
        ordered_by=by,
    )
    order.full_clean(exclude=["shop", "ordered_by"])
    order.save()
    for pk, quantity in quantities.items():
        line = OrderLine(order=order, item=items[pk], ordered=quantity, cost=items[pk].cost)
        line.full_clean(exclude=["order", "item"], validate_constraints=False)  # judged above, and a statement each
        line.save()
    return order


@transaction.atomic
def receive_goods(
    *,
    order: PurchaseOrder,
    seen_version: int,
    quantities: Mapping[int, Decimal],
    by: User | None,
    sent_id: uuid.UUID | None = None,
) -> list[StockMovement]:
    """Receive what came of an order's lines (by their key), all of the delivery or nothing.

    An order of which everything came is closed. The same `sent_id` again, which the form makes, receives nothing and
    gives back what it received the first time.

    Raises:
        StaleVersion: somebody received or closed something of it meanwhile.
        OrderClosed, MoreThanOrdered, ValidationError: nothing is received.
    """
    try:
        take_version(order, seen_version)
    except StaleVersion:
        received = StockMovement.objects.filter(order_line__order=order, sent_id=sent_id) if sent_id else None
        if received:
            return list(received)
        raise
    if order.closed_at is not None:
        raise OrderClosed(f"{order} is closed. Receive what came at the part itself.")
    if not quantities:
        raise ValidationError("Enter how many came of at least one part.")
    lines = {line.pk: line for line in order.lines.select_related("item__part", "order")}
    still_open = open_quantities(order)
    if not set(quantities) <= set(lines):
        raise ValidationError("A line is not of this order.")
    too_many = [(lines[pk], still_open[pk], came) for pk, came in quantities.items() if came > still_open[pk]]
    if too_many:
        raise MoreThanOrdered(too_many)
    movements = []
    for pk, came in sorted(quantities.items()):
        movements.append(receive_for_order(line=lines[pk], quantity=came, by=by, sent_id=sent_id))
        still_open[pk] -= came
    if not any(still_open.values()):
        order.closed_at = timezone.now()
        order.save(update_fields=["closed_at"])
    return movements


@transaction.atomic
def expect_order(*, order: PurchaseOrder, seen_version: int, expected_on: dt.date | None) -> PurchaseOrder:
    """The day the supplier named; None where nobody knows. Promises are reckoned with it.

    Raises StaleVersion, OrderClosed, or ValidationError for a day before the order was written.
    """
    take_version(order, seen_version)
    if order.closed_at is not None:
        raise OrderClosed(f"{order} is closed; nothing more is expected.")
    if expected_on is not None and expected_on < timezone.localdate(order.ordered_at):
        raise ValidationError({"expected_on": "That day is before it was ordered."})
    if expected_on is not None:
        refuse_day("expected_on", expected_on, DayKind.EXPECTED, kept=order.expected_on)
    order.expected_on = expected_on
    order.save(update_fields=["expected_on"])
    return order


@transaction.atomic
def close_order(*, order: PurchaseOrder, seen_version: int) -> None:
    """The rest will not come. Raises StaleVersion, OrderClosed."""
    take_version(order, seen_version)
    if order.closed_at is not None:
        raise OrderClosed(f"{order} is closed already.")
    order.closed_at = timezone.now()
    order.save(update_fields=["closed_at"])


def open_quantities(order: PurchaseOrder) -> dict[int, Decimal]:
    """What is still to come of each line."""
    lines = order.lines.annotate(came=Sum("movements__quantity")).values_list("pk", "ordered", "came")
    return {pk: ordered - (came or NOTHING) for pk, ordered, came in lines}
