"""What goes in and out of the stores. A level is the sum of its movements; it does not go below nothing."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import DecimalField, F, QuerySet, Sum, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from workshop.staff.models import User
from workshop.stock.amounts import measured
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
    *, item: StockItem, quantity: Decimal, by: User | None, note: str = "", sent_id: uuid.UUID | None = None
) -> StockMovement:
    """A delivery. Raises ValidationError for a quantity that is not above zero.

    The same `sent_id` again, which the form makes, moves nothing and gives back what it moved the first time.
    """
    return _move(item, Kind.RECEIVED, _above_zero(quantity), by, note, sent_id=sent_id)


def receive_for_order(
    *, line: OrderLine, quantity: Decimal, by: User | None, sent_id: uuid.UUID | None = None
) -> StockMovement:
    """What came in of an order. How much of it may come is workshop.stock.ordering.receive_goods's to say."""
    note = f"Order {line.order.number}"
    return _move(line.item, Kind.RECEIVED, _above_zero(quantity), by, note, order_line=line, sent_id=sent_id)


@transaction.atomic
def count(*, item: StockItem, counted: Decimal, by: User | None, note: str = "") -> StockMovement | None:
    """What was counted on the shelf becomes the level; None if it agreed. Raises ValidationError below zero."""
    if counted < 0:
        raise ValidationError("A count cannot be below nothing.")
    _lock(item)
    difference = counted - level_of(item)
    return _move(item, Kind.COUNTED, difference, by, note) if difference else None


def write_off(
    *, item: StockItem, quantity: Decimal, by: User | None, note: str, sent_id: uuid.UUID | None = None
) -> StockMovement:
    """Broken, lost or out of date. Raises ValidationError without a reason, NotEnoughInStock beyond the level.

    The same `sent_id` again moves nothing.
    """
    if not note.strip():
        raise ValidationError("Say why it is written off.")
    return _move(item, Kind.WRITTEN_OFF, -_above_zero(quantity), by, note, sent_id=sent_id)


def take_for_line(*, item: StockItem, line: PartLine, by: User | None) -> StockMovement:
    """What a ticket's line used. Raises NotEnoughInStock beyond the level."""
    note = f"Ticket {line.ticket.number}"
    return _move(item, Kind.USED, -line.quantity, by, note, part_line=line)


def put_back_from_line(*, line: PartLine, by: User | None) -> StockMovement | None:
    """Undo what a line took; None if it took nothing."""
    taken = line.movements.order_by("item").values("item").annotate(total=Sum("quantity")).filter(total__lt=0).first()
    if taken is None:
        return None
    item = StockItem.objects.get(pk=taken["item"])
    return _move(item, Kind.RETURNED, -taken["total"], by, f"Ticket {line.ticket.number}", part_line=line)


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
) -> StockMovement:
    _lock(item)
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
        sent_id=sent_id,
        by=by,
        at=timezone.now(),
    )
    # Kind, sign and line are this module's own, so the constraints, a statement each, have nothing to find.
    movement.full_clean(exclude=["item", "part_line", "order_line", "by"], validate_constraints=False)
    movement.save()
    return movement


def _lock(item: StockItem) -> None:
    """Of two movements at once the second sees the first. SQLite locks the whole file when a write begins."""
    StockItem.objects.select_for_update().only("pk").get(pk=item.pk)


def _above_zero(quantity: Decimal) -> Decimal:
    if quantity <= 0:
        raise ValidationError("Enter a quantity above zero.")
    return quantity
