"""A delivery as it is typed in: bottles as ml, the mark of its form, and what somebody else booked of the order."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from decimal import Decimal
from itertools import groupby

from django.utils import timezone

from specs.models import Part
from workshop.stock.amounts import TooManyBottles, amount_in_words, in_ml
from workshop.stock.models import StockMovement
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.typed_amounts import TypedAmounts
from workshop.web.day_words import day_in_words

_NAMED = 5


def bottles_of(order: PurchaseOrder) -> dict[int, Decimal]:
    """What a bottle holds, in ml, by the key of each line that comes in bottles: the line's own pack, or the part's."""
    lines = order.lines.filter(item__part__measure=Part.Measure.ML)
    rows = lines.values_list("pk", "pack", "item__part__bottle_ml")
    held = {pk: pack if pack != 1 else ml for pk, pack, ml in rows}
    return {pk: ml for pk, ml in held.items() if ml is not None}


def in_measure(typed: TypedAmounts, bottles: Mapping[int, Decimal]) -> TypedAmounts:
    """Bottles as what they hold; other amounts as they are."""
    amounts, refused = dict(typed.amounts), dict(typed.refused)
    for pk in bottles.keys() & amounts.keys():
        try:
            amounts[pk] = in_ml(amounts[pk], bottles[pk])
        except TooManyBottles as reason:
            del amounts[pk]
            refused[pk] = str(reason)
    return TypedAmounts(amounts, refused)


def sent_id_of(text: str) -> uuid.UUID | None:
    """The mark that a form was sent with; None for none or a broken one."""
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def received_lately(order: PurchaseOrder) -> str:
    """What was booked of an order lately, each with who and when, the last first, for somebody who was about to."""
    movements = StockMovement.objects.filter(order_line__order=order).select_related("item__part", "by")
    rows = list(movements.order_by("-pk")[:_NAMED])
    if not rows:
        return "Somebody changed this order meanwhile."
    told = [
        f"by {who or 'nobody known'}, {when}: "
        + ", ".join(amount_in_words(row.quantity, row.item.part, row.item.part.description) for row in booked)
        for (who, when), booked in groupby(rows, key=lambda row: (row.by, _minute(row)))
    ]
    return f"Somebody changed this order meanwhile. Booked last {'. Before that '.join(told)}."


def _minute(row: StockMovement) -> str:
    """When it was booked; what was booked in one minute by one person is told as one delivery."""
    at = timezone.localtime(row.at)
    return f"{day_in_words(at.date())}, {at:%H:%M}"
