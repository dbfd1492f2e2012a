"""All tickets, by state, 50 a page."""

from __future__ import annotations

from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from workshop.counter.day import late
from workshop.promise.honest import mark_promises, promises_in_danger
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.stretch import Stretch, stretch_of
from workshop.work.unsafe import mark_unsafe

PER_PAGE = 50
IN_THE_SHOP, LATE = "in_the_shop", "late"


@dataclass(frozen=True)
class Filter:
    """A way to look at the tickets. What is closed grows for ever and is not counted."""

    key: str
    label: str
    count: int | None


@require_GET
@anyone_in_the_shop
def tickets(request: ShopRequest) -> HttpResponse:
    """`?show=` is a state, "in_the_shop" (the default) or "late"; `?page=` the page of those, `?before=` a number."""
    today = timezone.localdate()
    conditions = _conditions(late(today))
    show = request.GET.get("show", IN_THE_SHOP)
    show = show if show in conditions else IN_THE_SHOP
    mine = Ticket.objects.of_shop(request.shop)
    inside = {key: condition for key, (_, condition) in conditions.items() if _is_inside(key)}
    counts = mine.open().aggregate(**{key: Count("pk", filter=condition) for key, condition in inside.items()})
    rows = mine.for_rows().filter(conditions[show][1])
    page: Page[Ticket] | Stretch[Ticket]
    if _is_inside(show):
        rows = rows.order_by("promised_on", "number") if show in {IN_THE_SHOP, LATE} else rows.order_by("-number")
        page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
        page.object_list = list(page.object_list)
        mark_promises(page.object_list, promises_in_danger(request.shop, today))
        mark_unsafe(page.object_list)
    else:
        before = key_from(request.GET.get("before"))
        rows = rows.order_by("-number") if before is None else rows.order_by("-number").filter(number__lt=before)
        page = stretch_of(rows, PER_PAGE, key=lambda ticket: ticket.number, is_later=before is not None)
    context = {
        "page": page,
        "filters": [Filter(key, label, counts.get(key)) for key, (label, _) in conditions.items()],
        "show": show,
        "today": today,
    }
    return render(request, "counter/tickets.html", context)


def _is_inside(show: str) -> bool:
    return show in {IN_THE_SHOP, LATE, *Ticket.OPEN_STATES}


def _conditions(is_late: Q) -> dict[str, tuple[str, Q]]:
    states = {str(state.value): (str(state.label), Q(state=state)) for state in Ticket.State}
    return {IN_THE_SHOP: ("In the shop", Q(state__in=Ticket.OPEN_STATES)), LATE: ("Overdue", is_late), **states}
