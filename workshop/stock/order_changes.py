"""What becomes of an order on its way: sent, confirmed with another day or price, lines added, changed, cancelled."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.staff.models import User
from workshop.stock.amounts import measured
from workshop.stock.models import StockItem
from workshop.stock.order_standing import (
    came_of,
    check_amount,
    check_open,
    note_step,
    price_of_each,
    price_of_pack,
    set_ordered,
    settle_orders,
)
from workshop.stock.ordering import new_line
from workshop.stock.price_updates import let_prices_come_due
from workshop.stock.purchase_models import OrderLine, OrderStep, PurchaseOrder
from workshop.stock.receiving import DoubtfulPrice, doubt_of_price
from workshop.stock.supplier_models import BasketLine, SupplierPart
from workshop.web.number_words import figures, plain_price
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

Kind = OrderStep.Kind


@dataclass(frozen=True)
class LineTerms:
    """What the supplier says of a line: how many come, what a pack costs, and on which day; None is not known."""

    ordered: Decimal
    pack_price: Decimal | None
    expected_on: dt.date | None


class LineRefused(ValueError):
    """Some lines cannot be so; `reasons` says why by the key of each. Nothing was changed."""

    def __init__(self, reasons: Mapping[int, str]) -> None:
        super().__init__(" ".join(reasons.values()))
        self.reasons = reasons


@transaction.atomic
def change_lines(
    *,
    order: PurchaseOrder,
    seen_version: int,
    terms: Mapping[int, LineTerms],
    confirmed: bool,
    reason: str = "",
    by: User | None,
    meant: Collection[int] = (),
) -> int:
    """Other terms for lines, by their key; how many are different now. A line of which nothing is ordered is cancelled.

    Args:
        confirmed: the supplier said so; else the shop changed it.
        meant: keys of lines whose odd price somebody said is meant.

    Raises:
        StaleVersion, OrderClosed: nothing is changed.
        LineRefused, DoubtfulPrice: lines that cannot be so, or whose price is asked about.
    """
    take_version(order, seen_version)
    check_open(order)
    lines = {line.pk: line for line in order.lines.select_related("item__part").filter(pk__in=terms)}
    came = came_of(order)
    _check(order, lines, terms, came, meant)
    changed = 0
    for pk, new in sorted(terms.items()):
        line = lines[pk]
        values = _differences(line, new)
        if not values:
            continue
        cancelled = "ordered" in values and new.ordered <= came[pk]
        kind = Kind.CANCELLED if cancelled else Kind.CONFIRMED if confirmed else Kind.CHANGED
        note_step(order=order, kind=kind, line=line, values=values, reason=reason, by=by)
        line.ordered, line.expected_on = new.ordered, new.expected_on
        if "price" in values:
            line.pack_price = new.pack_price
            line.cost = price_of_each(new.pack_price, line)
        line.save(update_fields=["ordered", "expected_on", "pack_price", "cost"])
        changed += 1
    if confirmed and not changed:
        note_step(order=order, kind=Kind.CONFIRMED, by=by, reason=reason)
    settle_orders(order, by)
    return changed


def _differences(line: OrderLine, new: LineTerms) -> dict[str, tuple[str, str]]:
    was = {
        "ordered": figures(line.ordered),
        "price": plain_price(price_of_pack(line)),
        "expected": str(line.expected_on or ""),
    }
    now = {
        "ordered": figures(new.ordered),
        "price": plain_price(new.pack_price),
        "expected": str(new.expected_on or ""),
    }
    return {name: (was[name], now[name]) for name in was if was[name] != now[name]}


def _check(
    order: PurchaseOrder,
    lines: Mapping[int, OrderLine],
    terms: Mapping[int, LineTerms],
    came: Mapping[int, Decimal],
    meant: Collection[int],
) -> None:
    refused, doubtful = {}, {}
    if set(lines) != set(terms):
        raise ValidationError("A line is not of this order.")
    for pk, new in terms.items():
        line = lines[pk]
        if why := _why_not(order, line, new, came[pk]):
            refused[pk] = why
        usual = price_of_pack(line)
        if pk not in meant and new.pack_price != usual and (doubt := doubt_of_price(new.pack_price, usual)):
            doubtful[pk] = doubt
    if refused:
        raise LineRefused(refused)
    if doubtful:
        raise DoubtfulPrice(doubtful)


def _why_not(order: PurchaseOrder, line: OrderLine, new: LineTerms, came: Decimal) -> str:
    if new.ordered < came and new.ordered < line.ordered:
        return f"{measured(came, line.item.part)} came already. Order that at least, or send some back."
    try:
        if new.ordered != line.ordered and new.ordered != came:
            check_amount(line.item.part, new.ordered, pack=line.pack)
        if new.expected_on is not None and new.expected_on != line.expected_on:
            if new.expected_on < timezone.localdate(order.ordered_at):
                return "That day is before it was ordered."
            refuse_day("expected_on", new.expected_on, DayKind.EXPECTED)
    except ValidationError as refused:
        return " ".join(refused.messages)
    return ""


@transaction.atomic
def cancel_line(*, order: PurchaseOrder, seen_version: int, line: OrderLine, reason: str, by: User | None) -> None:
    """What did not come of a line will not come. Raises StaleVersion, OrderClosed, ValidationError."""
    take_version(order, seen_version)
    check_open(order)
    line, came = order.lines.get(pk=line.pk), came_of(order)[line.pk]
    if line.ordered <= came:
        raise ValidationError("Nothing is still to come of that part.")
    values = {"ordered": (figures(line.ordered), figures(came))}
    note_step(order=order, kind=Kind.CANCELLED, line=line, values=values, reason=reason, by=by)
    set_ordered(line, came)
    settle_orders(order, by)


@transaction.atomic
def add_line(
    *, order: PurchaseOrder, seen_version: int, item: StockItem, quantity: Decimal, by: User | None
) -> OrderLine:
    """Another part in an open order. Raises StaleVersion, OrderClosed, ValidationError."""
    let_prices_come_due(order.shop_id)
    item = StockItem.objects.select_related("part").get(pk=item.pk)
    take_version(order, seen_version)
    check_open(order)
    if item.shop_id != order.shop_id:
        raise ValidationError({"item": "That part is not kept here."})
    if order.lines.filter(item=item).exists():
        raise ValidationError({"item": f"“{item.part.description}” is in this order. Change its quantity."})
    if quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero."})
    offer = SupplierPart.objects.filter(item=item, supplier__name=order.supplier).first()
    if offer is None and item.supplier != order.supplier:
        raise ValidationError({"item": f"“{item.part.description}” does not come from {order.supplier}."})
    try:
        check_amount(item.part, quantity, pack=offer.pack if offer else Decimal(1))
    except ValidationError as refused:
        raise ValidationError({"quantity": refused.messages}) from None
    line = new_line(order, item, offer, quantity)
    line.save()
    BasketLine.objects.filter(item=item).delete()
    note_step(order=order, kind=Kind.ADDED, line=line, values={"ordered": ("", figures(quantity))}, by=by)
    return line


@transaction.atomic
def mark_sent(*, order: PurchaseOrder, seen_version: int, how: str, by: User | None) -> None:
    """The list went to the supplier; days to deliver are counted from now. Raises StaleVersion, ValidationError."""
    take_version(order, seen_version)
    if order.sent_at is not None:
        raise ValidationError("It was sent already.")
    order.sent_at = timezone.now()
    order.save(update_fields=["sent_at"])
    note_step(order=order, kind=Kind.SENT, reason=how, by=by)


@transaction.atomic
def mark_not_sent(*, order: PurchaseOrder, seen_version: int, by: User | None) -> None:
    """It did not go to the supplier after all. Raises StaleVersion, ValidationError once some of it came."""
    take_version(order, seen_version)
    if order.sent_at is None:
        raise ValidationError("Nobody said that it was sent.")
    if order.deliveries.filter(undone_at__isnull=True).exists():
        raise ValidationError("Some of it came, so it was sent.")
    order.sent_at = None
    order.save(update_fields=["sent_at"])
    note_step(order=order, kind=Kind.NOT_SENT, by=by)
