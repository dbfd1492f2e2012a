"""Office, Staff, Security log: who did what about signing in and what leaves the shop, when and from where."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from workshop.staff.security_log import words_of
from workshop.staff.security_log_models import SecurityEvent
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.stretch import stretch_of

LINES_A_PAGE = 50


@require_GET
@owner_only
def security_log(request: ShopRequest) -> HttpResponse:
    """The newest lines of this shop; `before` is the number from which an earlier stretch goes on."""
    rows = SecurityEvent.objects.filter(shop=request.shop).select_related("by").order_by("-number")
    before = key_from(request.GET.get("before"))
    if before is not None:
        rows = rows.filter(number__lt=before)
    page = stretch_of(rows, LINES_A_PAGE, key=lambda event: event.number, is_later=before is not None)
    lines = [(event, words_of(event)) for event in page.object_list]
    return render(request, "office/security_log.html", {"page": page, "lines": lines})
