"""Finding anything by what a caller can say."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from workshop.counter.search import find
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_GET
@anyone_in_the_shop
def search(request: ShopRequest) -> HttpResponse:
    """The results for `q`: a fragment while typing, a page on Enter; a ticket's own number leads straight to it."""
    results = find(request.shop, request.GET.get("q", "").strip())
    if request.htmx:
        return render(request, "counter/_search_results.html", {"results": results})
    if results.is_one_ticket:
        return redirect("counter:ticket", results.tickets[0].ticket.number)
    return render(request, "counter/search.html", {"results": results})
