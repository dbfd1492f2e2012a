"""Choosing the order of a run: the suggested one, or back to the handbook's."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from workshop.web.requests import ShopRequest
from workshop.web.roles import bench_only
from workshop.work.work import NotOnTheBench, bench_ticket, choose_order, run_of


@require_POST
@bench_only
def order(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    suggested = request.POST.get("order") == "suggested"
    try:
        choose_order(ticket=the_ticket, run=run_of(the_ticket, run_pk), suggested=suggested, by=request.user)
    except NotOnTheBench as error:
        messages.error(request, str(error))
        return redirect("bench:ticket", number)
    if request.POST.get("from") == "step":
        return redirect("bench:run", number, run_pk)
    return redirect("bench:ticket", number)
