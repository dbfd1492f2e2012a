"""Login for everything, and the shop's own clock."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, cast

from django.contrib.auth.middleware import LoginRequiredMiddleware as DjangoLoginRequired
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone
from django_htmx.http import HttpResponseClientRedirect

from workshop.staff.models import Shop, User

if TYPE_CHECKING:
    from workshop.web.requests import ShopRequest


class LoginRequiredMiddleware(DjangoLoginRequired):
    """Every view asks for a login unless it says otherwise.

    An htmx request of an expired session gets 401, so that the page keeps what was typed and says so,
    where a redirect would put the sign-in form into the middle of it.
    """

    def process_view(
        self, request: HttpRequest, view_func: Callable[..., HttpResponse], view_args: Any, view_kwargs: Any
    ) -> HttpResponse | None:
        response = cast("HttpResponse | None", super().process_view(request, view_func, view_args, view_kwargs))
        if response is not None or not request.user.is_authenticated:
            return response
        if request.user.must_change_password and not getattr(view_func, "allowed_before_password_change", False):
            if getattr(request, "htmx", False):
                return HttpResponseClientRedirect("/password/")
            return redirect("change_password")
        return None

    def handle_no_permission(self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]) -> Any:
        if getattr(request, "htmx", False):
            return HttpResponse("Signed out. Sign in again in another tab, then repeat.", status=401)
        return super().handle_no_permission(request, view_func)


class ShopTimezoneMiddleware:
    """Show times by the clock on the shop's wall, and put the shop on the request."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        user = request.user
        if isinstance(user, User) and user.is_authenticated and user.shop_id is not None:
            shop_request = cast("ShopRequest", request)
            shop_request.shop = cast(Shop, user.shop)
            with timezone.override(zoneinfo.ZoneInfo(shop_request.shop.time_zone)):
                return self.get_response(request)
        return self.get_response(request)
