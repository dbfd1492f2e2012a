"""The page that says that a shop is suspended or closed, to whoever works in it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from workshop.staff.models import Shop
from workshop.staff.stopped_shops import stopped_words
from workshop.web.no_error import as_no_error

_NOT_SERVED = 503  # a tablet keeps what it wanted to send, and tries again
_RETRY_AFTER_S = 600


def stopped_page(request: HttpRequest, shop: Shop) -> HttpResponse:
    """Why nobody gets in; nothing of what was sent was done."""
    context = {"stopped_shop": shop, "is_closed": shop.closed_at is not None, "text": stopped_words(shop)}
    page = render(request, "errors/shop_stopped.html", context, status=_NOT_SERVED)
    page["Cache-Control"] = "no-store"
    page["Retry-After"] = str(_RETRY_AFTER_S)
    return as_no_error(page)  # tablets go on asking
