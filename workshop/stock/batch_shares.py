"""Of which batches a movement of the stores is. Whoever calls holds the item, so that the levels stand."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal

from django.db.models import F, Sum
from django.utils import timezone

from workshop.stock.batch_models import Batch, BatchMovement
from workshop.stock.first_expiring import NOTHING, Held, dealt, first_expiring
from workshop.stock.models import StockItem, StockMovement


def held_of(item: StockItem, level: Decimal) -> list[Held]:
    """What is there of each batch of an item, and beside them without one; in the order of use, in one query.

    Nothing where the item has no batches: then it is as it always was.
    """
    batches = Batch.objects.filter(item=item, kept_level__level__gt=0).order_by("pk")
    rows = list(batches.values_list("pk", "kept_level__level", "use_by", "opened_on"))
    if not rows:
        return []
    held = [Held(pk, there, use_by, opened_on is not None) for pk, there, use_by, opened_on in rows]
    rest = level - sum((one.level for one in held), NOTHING)
    return first_expiring([*held, Held(None, rest)], timezone.localdate())


def share_out_movement(
    movement: StockMovement,
    level_before: Decimal,
    *,
    into: Batch | None = None,
    first: Collection[int | None] = (),
    counted: bool = False,
) -> None:
    """Write down of which batches a movement is.

    What comes in goes into `into`, or has no batch. What goes out comes from `first`, then by the order of use; what
    a count found missing, first from what has no batch, of which least is known.
    """
    if movement.quantity > 0:
        if into is not None:
            _write(movement, into.pk, movement.quantity)
        return
    order = held_of(movement.item, level_before)
    chosen = first or ([None] if counted else [])
    for one, amount in dealt(order, -movement.quantity, chosen):
        if one.key is not None:
            _write(movement, one.key, -amount)


def put_back_into(movement: StockMovement, moved_before: Sequence[StockMovement]) -> None:
    """What comes back goes into the batches that those movements took it from, as far as it goes."""
    rows = BatchMovement.objects.filter(movement__in=moved_before).order_by("batch").values_list("batch")
    left = movement.quantity
    for batch, net in rows.annotate(net=Sum("quantity")):
        amount = min(-net, left)
        if amount > 0:
            _write(movement, batch, amount)
            left -= amount


def batches_of_movements(movements: Sequence[StockMovement]) -> set[int | None]:
    """The batches that something of them went into; what is booked back comes out of those first."""
    rows = BatchMovement.objects.filter(movement__in=movements, quantity__gt=0)
    return set(rows.values_list("batch", flat=True))


def batches_here(item: StockItem) -> Sequence[Batch]:
    """Batches of which something is there with `level`, the first to be used first; one query."""
    batches = {
        one.pk: one
        for one in Batch.objects.filter(item=item, kept_level__level__gt=0).annotate(level=F("kept_level__level"))
    }
    held = [Held(pk, one.level, one.use_by, one.opened_on is not None) for pk, one in batches.items()]
    return [batches[one.key] for one in first_expiring(held, timezone.localdate()) if one.key is not None]


def _write(movement: StockMovement, batch: int, quantity: Decimal) -> None:
    BatchMovement.objects.create(batch_id=batch, movement=movement, quantity=quantity, by=movement.by, at=movement.at)
