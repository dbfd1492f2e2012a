"""What is missing, orders at suppliers, and goods coming in."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Count, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import put_beside_fields, seen_version
from workshop.documents.purchase_list import list_csv, list_pdf
from workshop.documents.rendering import PdfUnavailable
from workshop.stock.amounts import bottles_in_words
from workshop.stock.deliveries import bottles_of, in_measure, received_lately, sent_id_of
from workshop.stock.ordering import (
    MoreThanOrdered,
    OrderClosed,
    close_order,
    expect_order,
    open_quantities,
    place_order,
    receive_goods,
)
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stock.shortages import ItemStanding, stores_standing
from workshop.stock.typed_amounts import read_amounts
from workshop.stores.forms import ExpectedForm
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.number_words import figures
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.stretch import stretch_of
from workshop.web.versions import StaleVersion

REFUSED, CONFLICT = 422, 409
ORDERS_A_PAGE = 50


@require_GET
@anyone_in_the_shop
def to_order(request: ShopRequest) -> HttpResponse:
    return _to_order(request)


@require_POST
@anyone_in_the_shop
@sent_once
def order_parts(request: ShopRequest) -> HttpResponse:
    """Make a purchase list of what was ticked for one supplier."""
    chosen = {pk for pk in map(key_from, request.POST.getlist("item")) if pk is not None}
    typed = read_amounts(request.POST, "quantity")
    refused_rows = {pk: reason for pk, reason in typed.refused.items() if pk in chosen}
    if refused_rows:
        return _to_order(request, REFUSED, typed=request.POST, refused_rows=refused_rows)
    try:
        order = place_order(
            shop=request.shop,
            supplier=request.POST.get("supplier", ""),
            quantities={pk: amount for pk, amount in typed.amounts.items() if pk in chosen},
            by=request.user,
            note=request.POST.get("note", "")[:120],
        )
    except ValidationError as refused:
        return _to_order(request, REFUSED, refusal=" ".join(refused.messages), typed=request.POST)
    messages.success(request, f"Order {order.number} is written down. Print it or save it for the supplier.")
    return redirect("stores:order", order.number)


@require_GET
@anyone_in_the_shop
def orders(request: ShopRequest) -> HttpResponse:
    """The newest first; `?before=` goes on below a number."""
    before = key_from(request.GET.get("before"))
    lines = OrderLine.objects.filter(order=OuterRef("pk")).order_by().values("order").annotate(count=Count("pk"))
    rows = PurchaseOrder.objects.filter(shop=request.shop).order_by("-number")
    rows = rows.annotate(parts=Coalesce(Subquery(lines.values("count")), 0))
    if before is not None:
        rows = rows.filter(number__lt=before)
    page = stretch_of(rows, ORDERS_A_PAGE, key=lambda order: order.number, is_later=before is not None)
    return render(request, "stores/orders.html", {"page": page, "today": timezone.localdate()})


@require_GET
@anyone_in_the_shop
def order(request: ShopRequest, number: int) -> HttpResponse:
    return _show_order(request, _order(request, number))


@require_POST
@anyone_in_the_shop
def receive(request: ShopRequest, number: int) -> HttpResponse:
    """Goods that came; what is empty did not come."""
    the_order = _order(request, number)
    typed = in_measure(read_amounts(request.POST, "quantity"), bottles_of(the_order))
    if typed.refused:
        return _show_order(request, the_order, REFUSED, typed=request.POST, refused_rows=typed.refused)
    here_before = _parts_here(request)
    besides = seen_version(request, "besides")
    try:
        receive_goods(
            order=the_order,
            seen_version=besides or seen_version(request),
            quantities=typed.amounts,
            by=request.user,
            sent_id=sent_id_of(request.POST.get("sent_id", "")),
        )
    except StaleVersion:
        the_order = _order(request, number)
        said = f"{received_lately(the_order)} Nothing of yours is received yet."
        return _show_order(request, the_order, CONFLICT, refusal=said, typed=request.POST, stale=True)
    except MoreThanOrdered as refused:
        return _show_order(request, _order(request, number), REFUSED, typed=request.POST, refused_rows=refused.reasons)
    except (OrderClosed, ValidationError) as refused:
        words = " ".join(getattr(refused, "messages", [str(refused)]))
        return _show_order(request, _order(request, number), REFUSED, refusal=words, typed=request.POST)
    messages.success(request, "Received: it is in the stores.")
    for ticket in Ticket.objects.filter(pk__in=_parts_here(request) - here_before).order_by("promised_on"):
        messages.info(request, f"The parts of ticket {ticket.number} are here. It can go on.")
    return redirect("stores:order", number)


@require_POST
@anyone_in_the_shop
def expect(request: ShopRequest, number: int) -> HttpResponse:
    """The day the supplier named."""
    the_order, form = _order(request, number), ExpectedForm(request.POST)
    if form.is_valid():
        try:
            expect_order(order=the_order, seen_version=seen_version(request), **form.cleaned_data)
        except StaleVersion:
            said = "Somebody changed this order meanwhile. Your day is not saved yet; look again."
            return _show_order(request, _order(request, number), CONFLICT, refusal=said, expected_form=form)
        except OrderClosed as refused:
            form.add_error("expected_on", str(refused))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "Saved. Promises are reckoned with that day.")
            return redirect("stores:order", number)
    return _show_order(request, _order(request, number), REFUSED, expected_form=form)


@require_POST
@anyone_in_the_shop
def close(request: ShopRequest, number: int) -> HttpResponse:
    the_order = _order(request, number)
    try:
        close_order(order=the_order, seen_version=seen_version(request))
    except StaleVersion:
        messages.error(request, "Somebody changed this order meanwhile. Look at it again first.")
    except OrderClosed as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Order {number} is closed. What did not come is missing again.")
    return redirect("stores:order", number)


@require_GET
@anyone_in_the_shop
def order_pdf(request: ShopRequest, number: int) -> HttpResponse:
    the_order = _order(request, number)
    try:
        pdf = list_pdf(the_order)
    except PdfUnavailable as problem:
        messages.error(request, str(problem))
        return redirect("stores:order", number)
    return _file(pdf, "application/pdf", f"purchase-list-{number}.pdf", as_attachment=False)


@require_GET
@anyone_in_the_shop
def order_csv(request: ShopRequest, number: int) -> HttpResponse:
    content = list_csv(_order(request, number))
    return _file(content, "text/csv; charset=utf-8", f"purchase-list-{number}.csv", as_attachment=True)


def _file(content: bytes, content_type: str, name: str, *, as_attachment: bool) -> HttpResponse:
    disposition = content_disposition_header(as_attachment, name)
    return HttpResponse(content, content_type=content_type, headers={"Content-Disposition": disposition})


def _order(request: ShopRequest, number: int) -> PurchaseOrder:
    orders = PurchaseOrder.objects.select_related("shop", "ordered_by")
    return get_object_or_404(orders, shop=request.shop, number=number)


def _parts_here(request: ShopRequest) -> set[int]:
    here = stores_standing(request.shop, with_quiet_items=False).parts_here()
    waiting = Ticket.objects.filter(pk__in=here, state=Ticket.State.WAITING, waiting_for=Ticket.WaitingFor.PARTS)
    return set(waiting.values_list("pk", flat=True))


def _to_order(
    request: ShopRequest,
    status: int = 200,
    *,
    refusal: str = "",
    typed: QueryDict | None = None,
    refused_rows: Mapping[int, str] = MappingProxyType({}),
) -> HttpResponse:
    """`?also=` names an item that is to be on the list though nothing lacks of it."""
    standing = stores_standing(request.shop)
    also = (request.GET if typed is None else typed).get("also", "")
    by_supplier: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for item in standing.items:
        if item.suggested or str(item.item.pk) == also:
            by_supplier[item.item.supplier].append(_to_order_row(item, typed, refused_rows))
    suppliers = sorted(by_supplier.items(), key=lambda pair: (not pair[0], pair[0]))
    context = {
        "suppliers": suppliers,
        "every_row": [row for _, rows in suppliers for row in rows],
        "also": also,
        "not_kept": standing.not_kept,
        "refused": bool(refusal or refused_rows),
        "refusal": refusal,
        "typed": typed or {},
    }
    return render(request, "stores/to_order.html", context, status=status)


def _to_order_row(standing: ItemStanding, typed: QueryDict | None, refused_rows: Mapping[int, str]) -> dict[str, Any]:
    item = standing.item
    name = f"quantity-{item.pk}"
    mine = typed if typed is not None and name in typed else None
    usual = standing.suggested or item.part.bottle_ml or 1
    return {
        "standing": standing,
        "name": name,
        "label": item.part.description,
        "value": mine.get(name, "") if mine else figures(Decimal(usual)),
        "chosen": str(item.pk) in mine.getlist("item") if mine else True,
        "error": refused_rows.get(item.pk, ""),
    }


def _show_order(
    request: ShopRequest,
    order: PurchaseOrder,
    status: int = 200,
    *,
    refusal: str = "",
    typed: QueryDict | None = None,
    refused_rows: Mapping[int, str] = MappingProxyType({}),
    expected_form: ExpectedForm | None = None,
    stale: bool = False,
) -> HttpResponse:
    """What was typed comes back with the version it was typed at, so that only a tick books it besides another's."""
    still_open = open_quantities(order)
    rows = [
        {
            "line": line,
            "name": f"quantity-{line.pk}",
            "label": line.item.part.description,
            "open": still_open[line.pk],
            "bottle_ml": line.item.part.bottle_ml,
            "bottle_words": f"× {figures(line.item.part.bottle_ml)} ml" if line.item.part.bottle_ml else "",
            "bottles": bottles_in_words(still_open[line.pk], line.item.part.bottle_ml),
            "came": line.ordered - still_open[line.pk],
            "value": typed.get(f"quantity-{line.pk}", "") if typed is not None else "",
            "error": refused_rows.get(line.pk, ""),
        }
        for line in order.lines.select_related("item__part")
    ]
    context = {
        "order": order,
        "rows": rows,
        "stale": stale,
        "receive_version": order.version if typed is None else seen_version(request),
        "sent_id": (typed.get("sent_id") if typed is not None else None) or uuid.uuid4(),
        "refused": bool(refusal or refused_rows),
        "refusal": refusal,
        "today": timezone.localdate(),
        "expected_form": expected_form or ExpectedForm(initial={"expected_on": order.expected_on}),
    }
    return render(request, "stores/order.html", context, status=status)
