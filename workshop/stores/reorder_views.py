"""Where to order again: what the stores' movements suggest, taken or left."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import seen_version
from workshop.stock.amounts import measured
from workshop.stock.models import StockItem
from workshop.stock.reorder_points import WINDOW_DAYS, suggestions_of, take_mark
from workshop.stock.typed_amounts import NoAmount, read_amount
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion

ROWS_A_PAGE = 50


@require_GET
@anyone_in_the_shop
def reorder_points(request: ShopRequest) -> HttpResponse:
    """The marks that are not what the last year suggests."""
    found = [one for one in suggestions_of(request.shop) if one.point is not None and one.differs]
    page = Paginator(found, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "stores/reorder_points.html", {"page": page, "window_days": WINDOW_DAYS})


@require_POST
@anyone_in_the_shop
def take(request: ShopRequest, pk: int) -> HttpResponse:
    """The mark that the page showed becomes the item's, whatever was used since it was drawn."""
    item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    try:
        mark = read_amount(request.POST.get("mark", ""), zero_too=True)
        take_mark(item=item, mark=mark, seen_version=seen_version(request), by=request.user)
    except StaleVersion:
        messages.error(request, f"Somebody changed “{item.part.description}” meanwhile. It is shown as it is now.")
    except (NoAmount, ValidationError) as refused:
        messages.error(request, " ".join(getattr(refused, "messages", [str(refused)])))
    else:
        messages.success(request, f"“{item.part.description}” is ordered again at {measured(mark, item.part)}.")
    if "list" in request.POST:
        return redirect("stores:reorder_points")
    return redirect("stores:item", pk)
