"""What holds of an order: what is still to come of each line, what refuses a change, and the trace of each step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from django.core.exceptions import ValidationError
from django.db.models import F, Sum
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import User
from workshop.stock.amounts import measured
from workshop.stock.moving import NOTHING
from workshop.stock.purchase_models import OrderLine, OrderStep, PurchaseOrder
from workshop.web.number_words import figures

_FOUR = Decimal("0.0001")


class MoreThanOrdered(ValueError):
    """More would come in than is still to come of some lines, and nobody said why. Nothing was received.

    `reasons` says it by the key of each line.
    """

    def __init__(self, lines: Sequence[tuple[OrderLine, Decimal, Decimal]]) -> None:
        self.reasons = {
            line.pk: f"{measured(came, line.item.part)} is more than the {measured(open_quantity, line.item.part)} "
            "still to come of this order. Count again; if that many came, say why in the remark."
            for line, open_quantity, came in lines
        }
        super().__init__(" ".join(f"{line.item.part.description}: {self.reasons[line.pk]}" for line, _, _ in lines))


class OrderClosed(ValueError):
    """The order is closed; nothing more comes of it."""


def came_of(order: PurchaseOrder) -> dict[int, Decimal]:
    """What came in of each line and did not go back, by its key; one query."""
    rows = order.lines.annotate(in_all=Sum("movements__quantity")).values_list("pk", "in_all")
    return {pk: came or NOTHING for pk, came in rows}


def open_quantities(order: PurchaseOrder) -> dict[int, Decimal]:
    """What is still to come of each line; nothing where more came than was ordered."""
    lines = order.lines.annotate(in_all=Sum("movements__quantity")).values_list("pk", "ordered", "in_all")
    return {pk: max(ordered - (came or NOTHING), NOTHING) for pk, ordered, came in lines}


def check_open(order: PurchaseOrder) -> None:
    """Raise OrderClosed for an order that is closed."""
    if order.closed_at is not None:
        raise OrderClosed(f"{order} is closed. Open it again first.")


def settle_orders(order: PurchaseOrder, by: User | None, *, reopen: bool = False) -> None:
    """Close an order of which nothing is to come; with `reopen` open a closed one of which something is again."""
    to_come = any(open_quantities(order).values())
    if order.closed_at is None and not to_come:
        order.closed_at = timezone.now()
    elif order.closed_at is not None and to_come and reopen:
        order.closed_at = None
        note_step(order=order, kind=OrderStep.Kind.OPENED, by=by)
    else:
        return
    order.save(update_fields=["closed_at"])


def note_step(
    *,
    order: PurchaseOrder,
    kind: OrderStep.Kind,
    by: User | None,
    line: OrderLine | None = None,
    values: Mapping[str, Sequence[str]] | None = None,
    reason: str = "",
) -> OrderStep:
    """Write down what was done to an order: `values` by name, each as what was and what is."""
    return OrderStep.objects.create(
        order=order, line=line, kind=kind, values=dict(values or {}), reason=reason.strip()[:120], by=by,
        at=timezone.now(),
    )  # fmt: skip


def set_ordered(line: OrderLine, ordered: Decimal) -> None:
    """How much of a line is ordered now, whoever had it read before."""
    OrderLine.objects.filter(pk=line.pk).update(ordered=ordered)
    line.ordered = ordered


def add_to_ordered(line: OrderLine, more: Decimal) -> None:
    """So much more is ordered of a line, or less for an amount below zero."""
    OrderLine.objects.filter(pk=line.pk).update(ordered=F("ordered") + more)


def price_of_pack(line: OrderLine) -> Decimal | None:
    """What a pack of a line was ordered at; None where it is not known."""
    if line.pack_price is not None or line.cost is None:
        return line.pack_price
    return line.cost * line.pack


def price_of_each(pack_price: Decimal | None, line: OrderLine) -> Decimal | None:
    """The same for one piece or ml, to four decimals."""
    return None if pack_price is None else (pack_price / line.pack).quantize(_FOUR, ROUND_HALF_UP)


def check_amount(part: Part, quantity: Decimal, *, pack: Decimal = Decimal(1)) -> None:
    """Raise ValidationError for half a piece, and for what is no whole number of packs."""
    if part.measure == Part.Measure.PIECE and quantity != quantity.to_integral_value():
        raise ValidationError(
            f"“{part.description}” is counted in pieces, so {figures(quantity)} cannot be. Enter a whole number."
        )
    packs = quantity / pack
    if pack != 1 and packs != packs.to_integral_value():
        fewer, more = (int(packs) * pack, (int(packs) + 1) * pack)
        enough = f"{measured(fewer, part)} or {measured(more, part)}" if fewer else measured(more, part)
        raise ValidationError(
            f"“{part.description}” is sold by {measured(pack, part)}, so {measured(quantity, part)} cannot be ordered. "
            f"Order {enough}."
        )
