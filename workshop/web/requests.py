"""The request as views of this project see it: signed in, with a shop, and with htmx details."""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from workshop.staff.models import Shop, User


class ShopRequest(HttpRequest):
    """A request of a signed-in member of staff; LoginRequiredMiddleware sees to `user` and `shop`."""

    user: User
    shop: Shop
    htmx: HtmxDetails
