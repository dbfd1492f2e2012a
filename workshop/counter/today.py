"""The counter's first page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from workshop.counter.day import day_at_the_counter, outlook_at_the_counter
from workshop.staff.roles import Right
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_GET
@anyone_in_the_shop
def keys(request: ShopRequest) -> HttpResponse:
    """What the keys do at the counter; pages fetch it into a panel."""
    return render(request, "counter/keys.html")


@require_GET
@anyone_in_the_shop
def today(request: ShopRequest) -> HttpResponse:
    """What to hand back, whom to call, and what came in lately; which promises will not hold follows."""
    day = timezone.localdate()
    can_write = request.user.may(Right.WRITE_AT_COUNTER)
    context = {"day": day_at_the_counter(request.shop, day), "today": day, "can_write": can_write}
    return render(request, "counter/today.html", context)


@require_GET
@anyone_in_the_shop
def outlook(request: ShopRequest) -> HttpResponse:
    """Parts that came and promises that will not hold: reckoned once the first page is there; also a page."""
    day = timezone.localdate()
    context = {"outlook": outlook_at_the_counter(request.shop, day), "today": day}
    return render(request, "counter/_outlook.html" if request.htmx else "counter/outlook.html", context)
