"""The stock-take on the tablet: a shelf at a time."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from workshop.stores.models import StockItem
from workshop.stores.moving import with_levels
from workshop.stores.stock_taking import Counted, MovedMeanwhile, take_stock
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

REFUSED, CONFLICT = 422, 409
MOST_ROWS = 100
_MOST = Decimal(999_999)


class CannotCount(ValueError):
    """What was typed is no count."""


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def stock_take(request: ShopRequest) -> HttpResponse:
    """`?shelf=` is the first letter or letters of the places that are counted."""
    shelf = request.GET.get("shelf", "")[:40]
    if request.method != "POST":
        return _page(request, shelf)
    try:
        differed = take_stock(shop=request.shop, counts=_counts(request.POST), by=request.user)
    except CannotCount as refused:
        return _page(request, shelf, REFUSED, refusal=str(refused), typed=request.POST)
    except MovedMeanwhile as moved:
        typed = request.POST.copy()
        for pk in moved.item_pks:
            typed.pop(f"counted-{pk}", None)
        return _page(request, shelf, CONFLICT, refusal=str(moved), typed=typed)
    said = "Everything agrees." if not differed else f"{differed} differed and are corrected."
    messages.success(request, said)
    return redirect(f"{reverse('stores:stock_take')}?shelf={shelf}" if shelf else "stores:stock_take")


def _page(
    request: ShopRequest, shelf: str, status: int = 200, *, refusal: str = "", typed: QueryDict | None = None
) -> HttpResponse:
    items = _items(request, shelf)[:MOST_ROWS]
    rows = [(item, typed.get(f"counted-{item.pk}", "") if typed is not None else "") for item in items]
    shelves = sorted({one[:1] for one in _items(request, "").values_list("shelf", flat=True) if one})
    context = {"rows": rows, "shelf": shelf, "shelves": shelves, "refusal": refusal}
    return render(request, "stores/stock_take.html", context, status=status)


def _items(request: ShopRequest, shelf: str) -> QuerySet[StockItem]:
    items = StockItem.objects.filter(shop=request.shop, shelf__istartswith=shelf)
    return with_levels(items.select_related("part")).order_by("shelf", "part__number")


def _counts(data: QueryDict) -> list[Counted]:
    """From fields `counted-<key>` and `seen-<key>`; what is empty was not counted. Raises CannotCount."""
    counts = []
    for name, text in data.items():
        key = name.removeprefix("counted-")
        if key == name or not (key.isascii() and key.isdigit() and len(key) < 18) or not str(text).strip():
            continue
        counts.append(Counted(int(key), _number(str(text)), _number(str(data.get(f"seen-{key}", "")))))
    return counts


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        raise CannotCount(f"“{text[:20]}” is no number. Enter what you counted, such as 4 or 130.") from None
    if not number.is_finite() or not 0 <= number <= _MOST or number != round(number, 2):
        raise CannotCount(f"“{text[:20]}” cannot be a count. Enter nothing below zero, with two places at most.")
    return number
