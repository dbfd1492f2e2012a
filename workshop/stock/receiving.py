"""What came of an order, all of a delivery or nothing, booked once; and booked back where it was a slip."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.staff.models import User
from workshop.stock.batch_models import Batch
from workshop.stock.batches import batch_named
from workshop.stock.delivery_models import Delivery, DeliveryLine, SentBack
from workshop.stock.models import StockMovement
from workshop.stock.moving import NOTHING, book_back, receive_for_order
from workshop.stock.order_standing import (
    MoreThanOrdered,
    OrderClosed,
    came_of,
    check_amount,
    open_quantities,
    price_of_each,
    price_of_pack,
    settle_orders,
)
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.web.number_words import price_figures
from workshop.web.versions import StaleVersion, take_version

TIMES_THE_USUAL = 5
"""A price so many times the ordered one, or that part of it, is asked about: a slip of the comma is tenfold."""


@dataclass(frozen=True)
class CameIn:
    """What came of one line, in pieces or ml, and what was asked for a pack; `note` says what was wrong or why more.

    `batch_number` and `use_by` are of what is good.
    """

    good: Decimal = NOTHING
    damaged: Decimal = NOTHING
    wrong: Decimal = NOTHING
    missing: Decimal = NOTHING
    pack_price: Decimal | None = None
    note: str = ""
    batch_number: str = ""
    use_by: dt.date | None = None

    @property
    def is_nothing(self) -> bool:
        return not (self.good or self.damaged or self.wrong or self.missing)


class DoubtfulPrice(ValueError):
    """A price is nothing, or far from the one that was ordered at. `reasons` says it by the key of each line."""

    def __init__(self, reasons: Mapping[int, str]) -> None:
        super().__init__(" ".join(reasons.values()))
        self.reasons = reasons


def doubt_of_price(price: Decimal | None, usual: Decimal | None) -> str:
    """What is odd about a price, in words; "" where nothing is."""
    if price is None:
        return ""
    if price == 0:
        return "0 would be free of charge."
    if usual and not usual / TIMES_THE_USUAL < price < usual * TIMES_THE_USUAL:
        return f"{price_figures(price)} is far from the {price_figures(usual)} it was ordered at."
    return ""


@transaction.atomic
def book_delivery(
    *,
    order: PurchaseOrder,
    seen_version: int,
    came: Mapping[int, CameIn],
    by: User | None,
    sent_id: uuid.UUID | None = None,
    note: str = "",
    meant: Collection[int] = (),
) -> Delivery:
    """Book what came, by the key of each line: all of the delivery or nothing.

    An order of which everything came is closed. The same `sent_id` again, which the form makes, books nothing and
    gives back what it booked the first time.

    Args:
        meant: keys of lines whose odd price somebody said is meant.

    Raises:
        StaleVersion: somebody booked or changed something of it meanwhile.
        OrderClosed, MoreThanOrdered, DoubtfulPrice, ValidationError: nothing is booked.
    """
    try:
        take_version(order, seen_version)
    except StaleVersion:
        booked = Delivery.objects.filter(order=order, sent_id=sent_id).first() if sent_id else None
        if booked is not None:
            return booked
        raise
    if order.closed_at is not None:
        raise OrderClosed(f"{order} is closed. Open it again, or receive the delivery at the part itself.")
    came = {pk: one for pk, one in came.items() if not one.is_nothing}
    if not came:
        raise ValidationError("Enter how many came of at least one part.")
    lines = {line.pk: line for line in order.lines.select_related("item__part", "order__shop")}
    if not set(came) <= set(lines):
        raise ValidationError("A line is not of this order.")
    _check(lines, open_quantities(order), came, meant)
    delivery = Delivery(
        order=order, sent_id=sent_id or uuid.uuid4(), note=note.strip()[:120], by=by, at=timezone.now()
    )  # fmt: skip
    delivery.save()
    for pk, one in sorted(came.items()):
        DeliveryLine.objects.create(
            delivery=delivery, line=lines[pk], good=one.good, damaged=one.damaged, wrong=one.wrong,
            missing=one.missing,
            pack_price=one.pack_price,
            price=price_of_each(one.pack_price, lines[pk]), note=one.note.strip()[:120],
        )  # fmt: skip
        if one.good:
            paid = price_of_each(one.pack_price, lines[pk])
            batch = _batch_of(lines[pk], one, by)
            receive_for_order(
                line=lines[pk], quantity=one.good, by=by, sent_id=delivery.sent_id, cost=paid, batch=batch
            )
    settle_orders(order, by)
    return delivery


def _batch_of(line: OrderLine, one: CameIn, by: User | None) -> Batch | None:
    if not one.batch_number.strip() and one.use_by is None:
        return None
    try:
        return batch_named(item=line.item, number=one.batch_number, use_by=one.use_by, by=by)
    except ValidationError as refused:
        raise ValidationError(f"“{line.item.part.description}”: {' '.join(refused.messages)}") from None


def _check(
    lines: Mapping[int, OrderLine],
    still_open: Mapping[int, Decimal],
    came: Mapping[int, CameIn],
    meant: Collection[int],
) -> None:
    too_many, doubtful = [], {}
    for pk, one in came.items():
        line = lines[pk]
        for amount in (one.good, one.damaged, one.wrong, one.missing):
            if amount < 0:
                raise ValidationError("Nothing less than nothing can come.")
            check_amount(line.item.part, amount)
        if one.good > still_open[pk] and not one.note.strip():
            too_many.append((line, still_open[pk], one.good))
        if (one.damaged or one.wrong) and not one.note.strip():
            raise ValidationError(f"“{line.item.part.description}”: say what was damaged or wrong in the remark.")
        if pk not in meant and (doubt := doubt_of_price(one.pack_price, price_of_pack(line))):
            doubtful[pk] = doubt
    if too_many:
        raise MoreThanOrdered(too_many)
    if doubtful:
        raise DoubtfulPrice(doubtful)


@transaction.atomic
def book_delivery_back(
    *, order: PurchaseOrder, seen_version: int, delivery: Delivery, why: str, by: User | None
) -> Delivery:
    """A delivery was booked by mistake: each movement of it has its counter-movement, and it is to come again.

    Raises:
        StaleVersion: the order was changed meanwhile; once booked back it is not booked back again.
        NotEnoughInStock: it is used already.
        ValidationError: no reason, or some of it went back to the supplier.
    """
    take_version(order, seen_version)
    delivery = order.deliveries.select_for_update().get(pk=delivery.pk)
    if delivery.undone_at is not None:
        raise ValidationError("This delivery is booked back already.")
    if not why.strip():
        raise ValidationError("Say why it is booked back.")
    came, unusable = came_of(order), unusable_of(order)
    for one in delivery.lines.select_related("line__item__part", "line__order").order_by("line"):
        gone = one.good > came[one.line_id] or one.damaged + one.wrong > unusable.get(one.line_id, NOTHING)
        if gone:
            raise ValidationError(
                f"Some of “{one.line.item.part.description}” went back to the supplier. Take that back first."
            )
        if one.good:
            book_back(line=one.line, quantity=-one.good, by=by, delivery=delivery.sent_id)
    delivery.undone_at, delivery.undone_by, delivery.undone_why = timezone.now(), by, why.strip()[:120]
    delivery.save(update_fields=["undone_at", "undone_by", "undone_why"])
    settle_orders(order, by, reopen=True)
    return delivery


def unusable_of(order: PurchaseOrder) -> dict[int, Decimal]:
    """What came damaged or wrong of each line and is still here, by its key; lines without any are left out."""
    here: dict[int, Decimal] = {}
    rows = DeliveryLine.objects.filter(delivery__order=order, delivery__undone_at__isnull=True)
    for line, damaged, wrong in rows.values_list("line", "damaged", "wrong"):
        here[line] = here.get(line, NOTHING) + damaged + wrong
    back = SentBack.objects.filter(line__order=order, what=SentBack.What.UNUSABLE, undone_at__isnull=True)
    for line, quantity in back.values_list("line", "quantity"):
        here[line] = here.get(line, NOTHING) - quantity
    return {line: amount for line, amount in here.items() if amount}


def movements_of(delivery: Delivery) -> list[StockMovement]:
    """What a delivery moved when it was booked."""
    return list(StockMovement.objects.filter(order_line__order=delivery.order_id, sent_id=delivery.sent_id))
