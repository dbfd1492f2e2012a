"""What goes in and out of the stores. A level is the sum of its movements; it does not go below nothing."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import DecimalField, F, QuerySet, Sum, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from workshop.staff.models import User
from workshop.stock.amounts import measured
from workshop.stock.batch_models import Batch
from workshop.stock.batch_shares import batches_of_movements, put_back_into, share_out_movement
from workshop.stock.models import StockItem, StockLevel, StockMovement
from workshop.stock.purchase_models import OrderLine
from workshop.tickets.models import PartLine

Kind = StockMovement.Kind
NOTHING = Decimal(0)
_LEVEL = DecimalField(max_digits=11, decimal_places=2)


class NotEnoughInStock(ValueError):
    """More would go out than the stores show. `level` is what they show."""

    def __init__(self, item: StockItem, level: Decimal, wanted: Decimal) -> None:
        what, there, asked = item.part.description, measured(level, item.part), measured(wanted, item.part)
        super().__init__(
            f"The stores show {there} of “{what}”, so {asked} cannot go out. "
            "If there are more on the shelf, receive or count them first."
        )
        self.item, self.level, self.wanted = item, level, wanted


def with_levels(items: QuerySet[StockItem]) -> QuerySet[StockItem]:
    """Items with `level`, the sum of their movements, which the database keeps."""
    return items.annotate(level=Coalesce(F("kept_level__level"), Value(NOTHING), output_field=_LEVEL))


def level_of(item: StockItem) -> Decimal:
    """What the stores show of one item now."""
    return levels_of([item.pk]).get(item.pk, NOTHING).quantize(Decimal("0.01"))


def levels_of(item_pks: Iterable[int]) -> dict[int, Decimal]:
    """What the stores show of several items, in one query."""
    return dict(StockLevel.objects.filter(item__in=list(item_pks)).values_list("item", "level"))


def receive(
    *,
    item: StockItem,
    quantity: Decimal,
    by: User | None,
    note: str = "",
    sent_id: uuid.UUID | None = None,
    cost: Decimal | None = None,
    batch: Batch | None = None,
) -> StockMovement:
    """A delivery, into `batch` where it has one. Raises ValidationError for a quantity that is not above zero.

    Each cost `cost`, or where nobody says so what the stores say it costs.

    The same `sent_id` again, which the form makes, moves nothing and gives back what it moved the first time.
    """
    paid = item.cost if cost is None else cost
    return _move(item, Kind.RECEIVED, _above_zero(quantity), by, note, sent_id=sent_id, unit_cost=paid, into=batch)


def receive_for_order(
    *,
    line: OrderLine,
    quantity: Decimal,
    by: User | None,
    sent_id: uuid.UUID | None = None,
    cost: Decimal | None = None,
    batch: Batch | None = None,
) -> StockMovement:
    """What came in of an order. How much of it may come is workshop.stock.ordering.receive_goods's to say.

    Each cost `cost`, or where nobody says so what the order says, or else the stores. An order in another currency
    says nothing of what it costs in the shop's.
    """
    note = f"Order {line.order.number}"
    in_shops = line.order.currency in ("", line.order.shop.currency)
    said = (cost, line.cost, line.item.cost) if in_shops else (line.item.cost,)
    paid = next((one for one in said if one is not None), None)
    return _move(
        line.item, Kind.RECEIVED, _above_zero(quantity), by, note, order_line=line, sent_id=sent_id, unit_cost=paid,
        into=batch,
    )  # fmt: skip


def send_out(*, line: OrderLine, quantity: Decimal, by: User | None, note: str) -> StockMovement:
    """Goods of an order go back to the supplier. Raises NotEnoughInStock beyond the level."""
    cost = _bought_at(line)
    return _move(
        line.item, Kind.SENT_BACK, -_above_zero(quantity), by, note, order_line=line, unit_cost=cost,
        first=batches_of_movements(_moved(line)),
    )  # fmt: skip


def book_back(
    *, line: OrderLine, quantity: Decimal, by: User | None, delivery: uuid.UUID | None = None
) -> StockMovement:
    """The counter-movement of one of an order's that was a slip; below zero it takes out what came in.

    Args:
        delivery: the mark of the delivery that is booked back, which says at what cost.
    """
    cost, note = _bought_at(line, delivery), f"Order {line.order.number}"
    before = _moved(line, delivery)
    back = _move(
        line.item, Kind.UNDONE, quantity, by, note, order_line=line, unit_cost=cost,
        first=batches_of_movements(before) if quantity < 0 else (),
    )  # fmt: skip
    if quantity > 0:  # it did not go back to the supplier: into the batches that it was taken from
        put_back_into(back, [one for one in before if one.kind != Kind.RECEIVED])
    return back


def _moved(line: OrderLine, delivery: uuid.UUID | None = None) -> list[StockMovement]:
    """What moved for an order's line, or with one delivery of it."""
    moved = StockMovement.objects.filter(order_line=line)
    return list(moved.filter(sent_id=delivery) if delivery is not None else moved)


def _bought_at(line: OrderLine, delivery: uuid.UUID | None = None) -> Decimal | None:
    """What each of an order's line cost as it came in: of that delivery, or of the last."""
    came = StockMovement.objects.filter(order_line=line, kind=Kind.RECEIVED)
    if delivery is not None:
        came = came.filter(sent_id=delivery)
    return came.order_by("-pk").values_list("unit_cost", flat=True).first()


@transaction.atomic
def count(*, item: StockItem, counted: Decimal, by: User | None, note: str = "") -> StockMovement | None:
    """What was counted on the shelf becomes the level; None if it agreed. Raises ValidationError below zero."""
    if counted < 0:
        raise ValidationError("A count cannot be below nothing.")
    hold_item(item)
    difference = counted - level_of(item)
    return correct_by(item=item, difference=difference, by=by, note=note) if difference else None


def correct_by(
    *, item: StockItem, difference: Decimal, by: User | None, note: str, batch: Batch | None = None
) -> StockMovement:
    """What a count was off by, of `batch` where that was counted.

    Raises NotEnoughInStock where that would leave less than nothing. What is found beyond the stores has no batch
    unless one is named; what is missing comes out of what has none first.
    """
    first = [] if batch is None else [batch.pk]
    return _move(item, Kind.COUNTED, difference, by, note, into=batch, first=first)


def write_off(
    *,
    item: StockItem,
    quantity: Decimal,
    by: User | None,
    note: str,
    sent_id: uuid.UUID | None = None,
    first: Collection[int | None] = (),
) -> StockMovement:
    """Broken, lost, spilled or out of date. Raises ValidationError without a reason, NotEnoughInStock beyond the level.

    The same `sent_id` again moves nothing.

    Args:
        first: keys of the batches that it comes out of, None for what has no batch; else by the order of use.
    """
    if not note.strip():
        raise ValidationError("Say why it is written off.")
    return _move(item, Kind.WRITTEN_OFF, -_above_zero(quantity), by, note, sent_id=sent_id, first=first)


def take_for_line(
    *, item: StockItem, line: PartLine, by: User | None, first: Collection[int | None] = ()
) -> StockMovement:
    """What a ticket's line used, of the batches `first`, then by the order of use. Raises NotEnoughInStock."""
    note = f"Ticket {line.ticket.number}"
    return _move(item, Kind.USED, -line.quantity, by, note, part_line=line, first=first)


def put_back_from_line(*, line: PartLine, by: User | None) -> StockMovement | None:
    """Undo what a line took; None if it took nothing."""
    taken = line.movements.order_by("item").values("item").annotate(total=Sum("quantity")).filter(total__lt=0).first()
    if taken is None:
        return None
    item, before = StockItem.objects.get(pk=taken["item"]), list(line.movements.all())
    back = _move(item, Kind.RETURNED, -taken["total"], by, f"Ticket {line.ticket.number}", part_line=line)
    put_back_into(back, before)
    return back


@transaction.atomic
def _move(
    item: StockItem,
    kind: str,
    quantity: Decimal,
    by: User | None,
    note: str,
    part_line: PartLine | None = None,
    order_line: OrderLine | None = None,
    sent_id: uuid.UUID | None = None,
    unit_cost: Decimal | None = None,
    into: Batch | None = None,
    first: Collection[int | None] = (),
) -> StockMovement:
    hold_item(item)
    moved = StockMovement.objects.filter(item=item, sent_id=sent_id).first() if sent_id else None
    if moved is not None:
        return moved
    level = level_of(item)
    if quantity < 0 and level + quantity < 0:
        raise NotEnoughInStock(item, level, -quantity)
    movement = StockMovement(
        item=item,
        kind=kind,
        quantity=quantity,
        part_line=part_line,
        order_line=order_line,
        note=note.strip(),
        unit_cost=unit_cost,
        sent_id=sent_id,
        by=by,
        at=timezone.now(),
    )
    # Kind, sign and line are this module's own, so the constraints, a statement each, have nothing to find.
    movement.full_clean(exclude=["item", "part_line", "order_line", "by"], validate_constraints=False)
    movement.save()
    share_out_movement(movement, level, into=into, first=first, counted=kind == Kind.COUNTED)
    return movement


def hold_item(item: StockItem) -> None:
    """Of two movements at once the second sees the first. SQLite locks the whole file when a write begins."""
    StockItem.objects.select_for_update(no_key=True).only("pk").get(pk=item.pk)


def _above_zero(quantity: Decimal) -> Decimal:
    if quantity <= 0:
        raise ValidationError("Enter a quantity above zero.")
    return quantity
