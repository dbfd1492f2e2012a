"""Finding anything by what a caller can say."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from workshop.counter.search import MOST_INSIDE, find
from workshop.counter.standing import tickets_standing
from workshop.staff.roles import Right
from workshop.web.converters import key_from
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


@require_GET
@anyone_in_the_shop
def standing(request: ShopRequest) -> HttpResponse:
    """How the tickets numbered `?t=` stand: it follows what was found, and is a page of its own."""
    typed = (key_from(number) for number in request.GET.getlist("t")[:MOST_INSIDE])
    today = timezone.localdate()
    tickets = tickets_standing(request.shop, [number for number in typed if number is not None], today)
    context = {"tickets": tickets, "today": today, "can_write": request.user.may(Right.WRITE_AT_COUNTER)}
    return render(request, "counter/_standing.html" if request.htmx else "counter/standing.html", context)
