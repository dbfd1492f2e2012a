"""The stock-take on the tablet: a shelf at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from workshop.stock.models import StockItem
from workshop.stock.moving import with_levels
from workshop.stock.stock_taking import CountedItem, MovedMeanwhile, take_stock
from workshop.stock.typed_amounts import read_amounts
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

REFUSED, CONFLICT = 422, 409
MOST_ROWS = 100
NEVER = Decimal(-1)  # no level: what was not shown has to be looked at first


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def stock_take(request: ShopRequest) -> HttpResponse:
    """`?shelf=` is the first letter or letters of the places that are counted."""
    shelf = request.GET.get("shelf", "")[:40]
    if request.method != "POST":
        return _page(request, shelf)
    typed = read_amounts(request.POST, "counted", zero_too=True)
    seen = read_amounts(request.POST, "seen", zero_too=True).amounts
    if typed.refused:
        return _page(request, shelf, REFUSED, typed=request.POST, refused_rows=typed.refused)
    if not typed.amounts:
        nothing = "Nothing was counted. Enter what lies there of at least one part."
        return _page(request, shelf, REFUSED, refusal=nothing)
    counts = [CountedItem(pk, counted, seen.get(pk, NEVER)) for pk, counted in typed.amounts.items()]
    try:
        differed = take_stock(shop=request.shop, counts=counts, by=request.user)
    except MovedMeanwhile as moved:
        return _page(request, shelf, CONFLICT, refusal=str(moved), typed=_without(request.POST, moved.item_pks))
    counted = f"{len(counts)} counted"
    said = f"{counted}: all agree." if not differed else f"{counted}: {differed} differed and are corrected."
    messages.success(request, said)
    return redirect(f"{reverse('stores:stock_take')}?shelf={shelf}" if shelf else "stores:stock_take")


def _page(
    request: ShopRequest,
    shelf: str,
    status: int = 200,
    *,
    refusal: str = "",
    typed: QueryDict | None = None,
    refused_rows: Mapping[int, str] = MappingProxyType({}),
) -> HttpResponse:
    items = list(_items(request, shelf)[: MOST_ROWS + 1])
    rows = [
        {
            "item": item,
            "name": f"counted-{item.pk}",
            "label": item.part.description,
            "value": typed.get(f"counted-{item.pk}", "") if typed is not None else "",
            "error": refused_rows.get(item.pk, ""),
        }
        for item in items[:MOST_ROWS]
    ]
    shelves = sorted({one[:1] for one in _items(request, "").values_list("shelf", flat=True) if one})
    context = {
        "rows": rows,
        "more": len(items) > MOST_ROWS,
        "shelf": shelf,
        "shelves": shelves,
        "refused": bool(refusal or refused_rows),
        "refusal": refusal,
    }
    return render(request, "stores/stock_take.html", context, status=status)


def _without(typed: QueryDict, item_pks: Iterable[int]) -> QueryDict:
    """What was typed, without the counts that have to be taken again."""
    kept = typed.copy()
    for pk in item_pks:
        kept.pop(f"counted-{pk}", None)
    return kept


def _items(request: ShopRequest, shelf: str) -> QuerySet[StockItem]:
    items = StockItem.objects.filter(shop=request.shop, shelf__istartswith=shelf)
    return with_levels(items.select_related("part")).order_by("shelf", "part__number")
