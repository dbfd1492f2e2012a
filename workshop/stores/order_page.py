"""What the page of an order shows: its lines with what came, its deliveries, what went back, and its steps."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.db.models import Exists, OuterRef
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from specs.models import Part
from workshop.counter.saving import seen_version
from workshop.reminders.models import Message
from workshop.stock.amounts import bottles_in_words
from workshop.stock.batch_models import Batch
from workshop.stock.deliveries import bottles_of
from workshop.stock.delivery_models import SentBack
from workshop.stock.order_standing import came_of, price_of_pack
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stock.receiving import unusable_of
from workshop.stock.sending_back import credited
from workshop.stock.supplier_models import Supplier
from workshop.stores.forms import ExpectedForm
from workshop.web.number_words import figures, plain_price
from workshop.web.requests import ShopRequest

BESIDES = ("damaged", "wrong", "missing")
"""What came that is not good, or is on the delivery note and not in the box."""


def order_of(request: ShopRequest, number: int) -> PurchaseOrder:
    """The shop's order of that number, or 404."""
    orders = PurchaseOrder.objects.select_related("shop", "ordered_by")
    return get_object_or_404(orders, shop=request.shop, number=number)


def show_order(
    request: ShopRequest,
    order: PurchaseOrder,
    status: int = 200,
    *,
    refusal: str = "",
    typed: QueryDict | None = None,
    refused_rows: Mapping[int, str] = MappingProxyType({}),
    refused_fields: Mapping[str, str] = MappingProxyType({}),
    doubtful: Mapping[int, str] = MappingProxyType({}),
    expected_form: ExpectedForm | None = None,
    stale: bool = False,
) -> HttpResponse:
    """What was typed comes back with the version it was typed at, so that only a tick books it besides another's.

    What is wrong stands by the line's key beside its quantity, or by the name of the field beside that.
    """
    came, bottles, unusable = came_of(order), bottles_of(order), unusable_of(order)
    in_batches = Exists(Batch.objects.filter(item=OuterRef("item")))
    lines = list(order.lines.select_related("item__part").annotate(in_batches=in_batches))
    currency = order.currency or order.shop.currency
    errors = {f"quantity-{pk}": reason for pk, reason in {**doubtful, **refused_rows}.items()} | dict(refused_fields)
    rows = [
        _row(line, came[line.pk], bottles.get(line.pk), unusable.get(line.pk), typed, errors, currency)
        | {"doubtful": line.pk in doubtful}
        for line in lines
    ]
    context = {
        "order": order,
        "supplier": Supplier.objects.filter(shop=order.shop_id, name=order.supplier).first(),
        "currency": currency,
        "rows": rows,
        "stale": stale,
        "receive_version": order.version if typed is None else seen_version(request),
        "sent_id": (typed.get("sent_id") if typed is not None else None) or uuid.uuid4(),
        "delivery_note": typed.get("delivery_note", "") if typed is not None else "",
        "refused": bool(refusal or errors),
        "refusal": refusal,
        "today": timezone.localdate(),
        "expected_form": expected_form or ExpectedForm(initial={"expected_on": order.expected_on}),
        **_past(order),
    }
    return render(request, "stores/order.html", context, status=status)


def _row(
    line: OrderLine,
    came: Decimal,
    bottle: Decimal | None,
    unusable: Decimal | None,
    typed: QueryDict | None,
    errors: Mapping[str, str],
    currency: str,
) -> dict[str, Any]:
    still_open = max(line.ordered - came, Decimal(0))
    bottle_words = f"× {figures(bottle)} ml" if bottle else ""
    poured = line.item.part.measure == Part.Measure.ML

    def value(name: str, usual: str = "") -> str:
        return usual if typed is None else typed.get(f"{name}-{line.pk}", "")

    each = "each" if line.pack == 1 else f"for {figures(line.pack)}{' ml' if poured else ''}"
    price = value("price", plain_price(price_of_pack(line)))
    asked = [("price", f"Price {each}, {currency}", price)]
    asked += [(name, f"{name.capitalize()} {bottle_words}".strip(), value(name)) for name in BESIDES]
    besides = [
        (words, f"{name}-{line.pk}", typed_value, errors.get(f"{name}-{line.pk}", ""))
        for name, words, typed_value in asked
    ]
    return {
        "line": line,
        "name": f"quantity-{line.pk}",
        "label": line.item.part.description,
        "open": still_open,
        "came": came,
        "over": max(came - line.ordered, Decimal(0)),
        "unusable": unusable,
        "bottle_words": bottle_words,
        "bottles": bottles_in_words(still_open, bottle),
        "packs": ""
        if poured or line.pack == 1 or not still_open
        else f"{figures(still_open / line.pack)} × {figures(line.pack)}",
        "value": value("quantity"),
        "error": errors.get(f"quantity-{line.pk}", ""),
        "price": price,
        "note": value("note"),
        "besides": besides,
        "asks_batch": poured or line.in_batches,  # type: ignore[attr-defined]
        "batch": value("batch"),
        "use_by": value("use_by"),
        "use_by_error": errors.get(f"use_by-{line.pk}", ""),
        "is_unusual": any(value(name) for name in (*BESIDES, "note", "batch", "use_by"))
        or any(error for *_, error in besides),
    }


def _past(order: PurchaseOrder) -> dict[str, Any]:
    """Deliveries, what went back, credits and steps; in six queries."""
    deliveries = order.deliveries.select_related("by", "undone_by").prefetch_related("lines__line__item__part")
    back = SentBack.objects.filter(line__order=order).select_related("line__item__part", "by", "undone_by")
    credits = list(order.credits.select_related("by", "taken_back").order_by("pk"))
    return {
        "deliveries": deliveries,
        "sent_back": back,
        "credits": credits,
        "credited": credited(order) if credits else None,
        "steps": order.steps.select_related("line__item__part", "by"),
        "mails": Message.objects.filter(order=order).order_by("pk"),
    }
