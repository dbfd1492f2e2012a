"""Orders at suppliers: the list of them, one of them, its day, and its purchase list."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Count, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import put_beside_fields, seen_version
from workshop.documents.purchase_list import list_csv, list_pdf
from workshop.documents.rendering import PdfUnavailable
from workshop.stock.ordering import OrderClosed, close_order, expect_order
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stores.forms import ExpectedForm
from workshop.stores.order_page import order_of, show_order
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.stretch import stretch_of
from workshop.web.versions import StaleVersion

REFUSED, CONFLICT = 422, 409
ORDERS_A_PAGE = 50


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
    return show_order(request, order_of(request, number))


@require_POST
@anyone_in_the_shop
def expect(request: ShopRequest, number: int) -> HttpResponse:
    """The day the supplier named."""
    the_order, form = order_of(request, number), ExpectedForm(request.POST)
    if form.is_valid():
        try:
            expect_order(order=the_order, seen_version=seen_version(request), **form.cleaned_data)
        except StaleVersion:
            said = "Somebody changed this order meanwhile. Your day is not saved yet; look again."
            return show_order(request, order_of(request, number), CONFLICT, refusal=said, expected_form=form)
        except OrderClosed as refused:
            form.add_error("expected_on", str(refused))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "Saved. Promises use that day.")
            return redirect("stores:order", number)
    return show_order(request, order_of(request, number), REFUSED, expected_form=form)


@require_POST
@anyone_in_the_shop
def close(request: ShopRequest, number: int) -> HttpResponse:
    the_order = order_of(request, number)
    try:
        close_order(order=the_order, seen_version=seen_version(request), by=request.user)
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
    the_order = order_of(request, number)
    try:
        pdf = list_pdf(the_order)
    except PdfUnavailable as problem:
        messages.error(request, str(problem))
        return redirect("stores:order", number)
    return _file(pdf, "application/pdf", f"purchase-list-{number}.pdf", as_attachment=False)


@require_GET
@anyone_in_the_shop
def order_csv(request: ShopRequest, number: int) -> HttpResponse:
    content = list_csv(order_of(request, number))
    return _file(content, "text/csv; charset=utf-8", f"purchase-list-{number}.csv", as_attachment=True)


def _file(content: bytes, content_type: str, name: str, *, as_attachment: bool) -> HttpResponse:
    disposition = content_disposition_header(as_attachment, name)
    return HttpResponse(content, content_type=content_type, headers={"Content-Disposition": disposition})
