"""Ordering from a supplier; what comes of it is workshop.stock.receiving's."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from workshop.staff.models import Shop, User
from workshop.stock.basket_rows import ByHand, refuse_changed
from workshop.stock.lead_times import lead_time_of
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.order_standing import (
    MoreThanOrdered,
    OrderClosed,
    check_amount,
    note_step,
    open_quantities,
    settle_orders,
)
from workshop.stock.price_updates import let_prices_come_due
from workshop.stock.purchase_models import OrderLine, OrderStep, PurchaseOrder
from workshop.stock.receiving import CameIn, book_delivery, movements_of
from workshop.stock.supplier_models import BasketLine, Supplier, SupplierPart
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

__all__ = [
    "MoreThanOrdered",
    "OrderClosed",
    "OrderedMeanwhile",
    "close_order",
    "expect_order",
    "new_line",
    "open_order_again",
    "open_quantities",
    "place_order",
    "receive_goods",
]


class OrderedMeanwhile(ValueError):
    """Somebody ordered some of it after the list was shown; the message says what and in which order."""


@transaction.atomic
def place_order(
    *,
    shop: Shop,
    supplier: str,
    quantities: Mapping[int, Decimal],
    by: User | None,
    note: str = "",
    seen_order: int | None = None,
    seen_hands: Mapping[int, str] = MappingProxyType({}),
) -> PurchaseOrder:
    """Order items (by their key, in pieces or ml) from one supplier, at the prices it asks as far as they are known.

    Args:
        seen_order: the newest order's number when the list was shown; None asks nothing.
        seen_hands: by item, the mark of what was changed by hand of it when the list was shown.

    Raises:
        ValidationError: nothing was chosen, a quantity cannot be, or an item is not from that supplier.
        OrderedMeanwhile: some of it stands in an order that is newer than what was seen.
        RowsChanged: somebody else changed it by hand since.
    """
    let_prices_come_due(shop.pk)
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)  # the next number is given once
    items = _chosen(shop, supplier, quantities)
    refuse_changed({pk: ByHand(amount, supplier, left_out=False) for pk, amount in quantities.items()}, seen_hands)
    record = Supplier.objects.filter(shop=shop, name=supplier).first()
    if record is not None and record.archived_at is not None:
        raise ValidationError(f"{supplier} is archived. Use it again first, or choose another supplier.")
    offers = {one.item_id: one for one in SupplierPart.objects.filter(item__in=items, supplier__name=supplier)}
    for pk, item in items.items():
        if item.supplier != supplier and pk not in offers:
            raise ValidationError(f"“{item.part.description}” does not come from {supplier}.")
        check_amount(item.part, quantities[pk], pack=offers[pk].pack if pk in offers else Decimal(1))
    newest = PurchaseOrder.objects.filter(shop=shop).aggregate(newest=Max("number"))["newest"] or 0
    if seen_order is not None and newest > seen_order:
        _refuse_twice(shop, items, seen_order)
    now, foreign = timezone.now(), _foreign_currency(shop, record)
    lead_days = _lead_days(items.values(), record)
    order = PurchaseOrder(
        shop=shop,
        number=newest + 1,
        supplier=supplier.strip(),
        currency=foreign,
        note=note.strip(),
        expected_on=None if lead_days is None else timezone.localdate(now) + dt.timedelta(days=lead_days),
        ordered_at=now,
        ordered_by=by,
    )
    order.full_clean(exclude=["shop", "ordered_by"])
    order.save()
    for pk, quantity in quantities.items():
        new_line(order, items[pk], offers.get(pk), quantity).save()
    BasketLine.objects.filter(item__in=items).delete()
    return order


def new_line(order: PurchaseOrder, item: StockItem, offer: SupplierPart | None, quantity: Decimal) -> OrderLine:
    """A line of an order, not saved: at the supplier's price, else at the item's cost if that is the same currency."""
    cost = None if order.currency else item.cost
    line = OrderLine(order=order, item=item, ordered=quantity, cost=cost)
    bottle = item.part.bottle_ml
    if bottle is not None and not quantity % bottle:
        line.pack = bottle
    if offer is not None:
        line.supplier_number, line.pack = offer.number, offer.pack
        if offer.price is not None:
            line.pack_price, line.cost = offer.price, offer.each
    line.full_clean(exclude=["order", "item"], validate_constraints=False)  # judged above, and a statement each
    return line


def _chosen(shop: Shop, supplier: str, quantities: Mapping[int, Decimal]) -> dict[int, StockItem]:
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
    return items


def _refuse_twice(shop: Shop, items: Iterable[int], seen_order: int) -> None:
    newer = OrderLine.objects.filter(order__shop=shop, order__number__gt=seen_order, item__in=items)
    told = [
        f"“{line.item.part.description}” in order {line.order.number} by {line.order.ordered_by or 'nobody known'}"
        for line in newer.select_related("item__part", "order__ordered_by")
    ]
    if told:
        raise OrderedMeanwhile(
            f"Somebody ordered meanwhile: {', '.join(told)}. Nothing of yours is ordered yet; the list is the new one."
        )


def _foreign_currency(shop: Shop, record: Supplier | None) -> str:
    return record.currency if record is not None and record.currency != shop.currency else ""


def _lead_days(items: Iterable[StockItem], record: Supplier | None) -> int | None:
    """What the supplier's deliveries say; else the longest of the parts' days, the supplier's where one has none."""
    lead = None if record is None else lead_time_of(record)
    if lead is not None and lead.learned:
        return lead.days
    rows = list(items)
    days = [item.lead_days for item in rows if item.lead_days is not None]
    if len(days) < len(rows) and lead is not None and lead.days is not None:
        days.append(lead.days)
    return max(days) if days else None


def receive_goods(
    *,
    order: PurchaseOrder,
    seen_version: int,
    quantities: Mapping[int, Decimal],
    by: User | None,
    sent_id: uuid.UUID | None = None,
) -> list[StockMovement]:
    """Good goods alone of lines (by their key), of which nobody said a price. Raises what book_delivery does."""
    came = {pk: CameIn(good=quantity) for pk, quantity in quantities.items()}
    return movements_of(book_delivery(order=order, seen_version=seen_version, came=came, by=by, sent_id=sent_id))


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
def close_order(*, order: PurchaseOrder, seen_version: int, by: User | None = None) -> None:
    """The rest will not come. Raises StaleVersion, OrderClosed."""
    take_version(order, seen_version)
    if order.closed_at is not None:
        raise OrderClosed(f"{order} is closed already.")
    order.closed_at = timezone.now()
    order.save(update_fields=["closed_at"])
    note_step(order=order, kind=OrderStep.Kind.CLOSED, by=by)


@transaction.atomic
def open_order_again(*, order: PurchaseOrder, seen_version: int, by: User | None) -> None:
    """The rest comes after all. Raises StaleVersion, ValidationError where nothing is left to come."""
    take_version(order, seen_version)
    if order.closed_at is None:
        raise ValidationError(f"{order} is open already.")
    settle_orders(order, by, reopen=True)
    if order.closed_at is not None:
        raise ValidationError("All of it came. To have more of it, order it anew.")
