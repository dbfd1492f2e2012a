"""What other tablets tick in a run that is open on this one."""

from __future__ import annotations

import uuid

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from diagnosis.models import Tick
from workshop.bench.step_page import open_step
from workshop.tickets.models import TicketRun
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

MOST_TOLD = 5


@require_GET
@anyone_in_the_shop
def news(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    """The list of steps anew and the last ticks of others if there are any since `version`; else 204, in one query."""
    place = TicketRun.objects.filter(ticket__shop=request.shop, ticket__number=number, run=run_pk)
    version = place.values_list("run__version", flat=True).first()
    if version is None:
        raise Http404("This ticket has no such run.")
    seen = key_from(request.GET.get("version", "")) or 0
    if version <= seen:
        return HttpResponse(status=204)
    page = open_step(request, number, run_pk, request.GET.get("step") or None)
    ticks = Tick.objects.filter(run=run_pk).select_related("step", "by").order_by("pk")[max(seen - 1, 0) :]
    told = [tick for tick in ticks if tick.by_id != request.user.pk][-MOST_TOLD:]
    return render(request, "bench/_news.html", page.context() | {"told": told, "new_id": uuid.uuid4()})
