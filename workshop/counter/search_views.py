"""Finding anything by what a caller can say."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from workshop.counter.search import find
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

HITS_WHILE_TYPING = 6
HITS_ON_THE_PAGE = 20


@require_GET
@anyone_in_the_shop
def search(request: ShopRequest) -> HttpResponse:
    """What is found for `q`: a few while typing, more on Enter; a ticket's own number leads straight to it."""
    most = HITS_WHILE_TYPING if request.htmx else HITS_ON_THE_PAGE
    results = find(request.shop, request.GET.get("q", "").strip(), most)
    if request.htmx:
        return render(request, "counter/_search_results.html", {"results": results, "while_typing": True})
    if results.is_one_ticket:
        return redirect("counter:ticket", results.tickets[0].ticket.number)
    return render(request, "counter/search.html", {"results": results})
