"""New prices of many parts at once, with a preview; and what the stores are worth on a day."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from workshop.charges.sums import NOTHING
from workshop.charges.tax import tax_rules_of
from workshop.counter.saving import put_beside_fields
from workshop.staff.roles import Right
from workshop.stock.price_models import PriceUpdate
from workshop.stock.price_updates import (
    PricesMoved,
    UndoneAlready,
    change_prices,
    digest_of_rows,
    let_prices_come_due,
    rows_of_update,
    undo_update,
)
from workshop.stock.value import value_on
from workshop.stores.price_forms import ChangeForm, DayForm
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only, with_right

ROWS_A_PAGE = 50
REFUSED, CONFLICT = 422, 409
_NAMED = 5
sets_prices = with_right(Right.SET_PRICES)


@require_GET
@sets_prices
def prices(request: ShopRequest) -> HttpResponse:
    """The form, its preview where it was filled in, and what was changed before."""
    let_prices_come_due(request.shop.pk)
    if "percent" not in request.GET:
        return _page(request, ChangeForm.fresh(request.shop))
    form = ChangeForm(request.GET, shop=request.shop)
    return _page(request, form, 200 if form.is_valid() else REFUSED)


@require_POST
@sets_prices
def change(request: ShopRequest) -> HttpResponse:
    """Change them as the preview showed."""
    let_prices_come_due(request.shop.pk)
    form = ChangeForm(request.POST, shop=request.shop)
    if not form.is_valid():
        return _page(request, form, REFUSED)
    try:
        update = change_prices(
            shop=request.shop,
            wanted=form.wanted,
            from_on=form.cleaned_data["from_on"],
            seen_digest=request.POST.get("digest", ""),
            by=request.user,
        )
    except PricesMoved as moved:
        return _page(request, form, CONFLICT, conflict=str(moved))
    except ValidationError as refused:
        put_beside_fields(form, refused)
        return _page(request, form, REFUSED)
    said = "The prices are changed." if update.applied_at else "They are kept for that day."
    messages.success(request, f"{said} {update.words}.")
    return redirect("stores:price_update", update.pk)


@require_GET
@sets_prices
def update(request: ShopRequest, pk: int) -> HttpResponse:
    the_update = get_object_or_404(PriceUpdate.objects.select_related("by", "undone_by"), shop=request.shop, pk=pk)
    lines = the_update.lines.select_related("item__part").order_by("item__part__number", "pk")
    page = Paginator(lines, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "stores/price_update.html", {"update": the_update, "page": page})


@require_POST
@sets_prices
def undo(request: ShopRequest, pk: int) -> HttpResponse:
    the_update = get_object_or_404(PriceUpdate, shop=request.shop, pk=pk)
    try:
        since = undo_update(update=the_update, by=request.user)
    except UndoneAlready as refused:
        messages.info(request, " ".join(refused.messages))
    else:
        messages.success(request, "Taken back; the prices are those from before.")
        if since:
            named = ", ".join(item.part.number for item in since[:_NAMED])
            more = f" and {len(since) - _NAMED} more" if len(since) > _NAMED else ""
            messages.warning(request, f"Priced by somebody since, and left as they are: {named}{more}.")
    return redirect("stores:price_update", pk)


@require_GET
@owner_only
def value(request: ShopRequest) -> HttpResponse:
    """What the stores were worth at the end of a day."""
    let_prices_come_due(request.shop.pk)
    form = DayForm(request.GET or None)
    context: dict[str, Any] = {"form": form if form.is_bound else DayForm(initial={"day": timezone.localdate()})}
    if form.is_bound and not form.is_valid():
        return render(request, "stores/value.html", context, status=REFUSED)
    day = form.cleaned_data["day"] if form.is_bound else timezone.localdate()
    rules = tax_rules_of(request.shop)
    tax_percent = rules.parts_percent if rules.prices_include_tax else NOTHING
    worth = value_on(request.shop, day)
    page = Paginator(worth.rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
    rows = [(row, row.margin(tax_percent)) for row in page.object_list]
    return render(request, "stores/value.html", context | {"day": day, "worth": worth, "page": page, "rows": rows})


def _page(request: ShopRequest, form: ChangeForm, status: int = 200, **more: Any) -> HttpResponse:
    previewed = form.is_bound and form.is_valid()
    rows = rows_of_update(request.shop, form.wanted) if previewed else []
    updates = (
        PriceUpdate.objects.filter(shop=request.shop)
        .select_related("by")
        .annotate(parts=Count("lines"))
        .order_by("-pk")
    )
    context = {
        "form": form,
        "previewed": previewed,
        "page": Paginator(rows if previewed else updates, ROWS_A_PAGE).get_page(request.GET.get("page")),
        "changing": sum(1 for row in rows if row.changes),
        "staying": sum(1 for row in rows if not row.changes),
        "digest": digest_of_rows(rows),
        **more,
    }
    return render(request, "stores/prices.html", context, status=status)
