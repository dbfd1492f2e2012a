"""Who is signed in, login for everything, and the shop's own clock."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar, cast

from django.contrib.auth.middleware import AuthenticationMiddleware
from django.contrib.auth.middleware import LoginRequiredMiddleware as DjangoLoginRequired
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django_htmx.http import HttpResponseClientRedirect

from workshop.staff.models import User
from workshop.staff.second_factor import must_set_up
from workshop.staff.sessions import person_of

if TYPE_CHECKING:
    from workshop.web.requests import ShopRequest

V = TypeVar("V", bound=Callable[..., HttpResponseBase])

PAGE_PERSON = "page_person"
"""The field in which a form says whose page it stands on; what a script sends says it in a header."""


def before_password_change(view: V) -> V:
    """Mark a view that someone who must choose a new password first may still use."""
    view.before_password_change = True  # type: ignore[attr-defined]
    return view


def before_second_factor(view: V) -> V:
    """Mark the view in which an owner sets up the second factor that the shop asks for."""
    view.before_second_factor = True  # type: ignore[attr-defined]
    return view


class PersonMiddleware(AuthenticationMiddleware):
    """The person of the session, who may have come in by a short code, or on a device that was ended."""

    def process_request(self, request: HttpRequest) -> None:
        super().process_request(request)
        request.user = cast(User, SimpleLazyObject(lambda: person_of(request)))


class LoginRequiredMiddleware(DjangoLoginRequired):
    """Every view asks for a login unless it says otherwise, and for a new password or second factor where one is due.

    A redirect to the sign-in page would put it into the middle of an htmx page, and would throw away what was typed
    in a form. Those two get 401 and what to do. So does what a page sends that was made for somebody else, since a
    device may have changed person in another tab: nothing is done under a name that the page does not show.
    """

    def process_view(
        self, request: HttpRequest, view_func: Callable[..., HttpResponseBase], view_args: Any, view_kwargs: Any
    ) -> HttpResponseBase | None:
        response = super().process_view(request, view_func, view_args, view_kwargs)
        user = request.user
        if response is not None or not isinstance(user, User) or not getattr(view_func, "login_required", True):
            return response
        if _page_person(request) not in {"", str(user.pk)}:
            return _somebody_else(request)
        first = _due_first(user, view_func)
        if first is None:
            return None
        return HttpResponseClientRedirect(reverse(first)) if getattr(request, "htmx", False) else redirect(first)

    def handle_no_permission(self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]) -> Any:
        if getattr(request, "htmx", False):
            return HttpResponse("Signed out. Sign in again in another tab, then repeat.", status=401)
        if request.method not in {"GET", "HEAD"}:
            return render(request, "errors/signed_out.html", status=401)
        return super().handle_no_permission(request, view_func)


def _page_person(request: HttpRequest) -> str:
    """Whose page sends this, where it says so."""
    return request.headers.get("X-Person") or (request.POST.get(PAGE_PERSON, "") if request.method == "POST" else "")


def _somebody_else(request: HttpRequest) -> HttpResponse:
    if getattr(request, "htmx", False):
        said = f"{request.user} is signed in on this device now. Nothing was sent: this page is somebody else’s."
        return HttpResponse(said, status=401, headers={"X-Somebody-Else": "yes"})
    return render(request, "errors/somebody_else.html", status=401)


def _due_first(user: User, view: Callable[..., HttpResponseBase]) -> str | None:
    """The page that someone must see to before this view."""
    if getattr(view, "before_password_change", False):
        return None
    if user.must_change_password:
        return "change_password"
    return "second_factor" if must_set_up(user) and not getattr(view, "before_second_factor", False) else None


class ShopTimezoneMiddleware:
    """Show times by the clock on the shop's wall, and put the shop on the request."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        user = request.user
        if isinstance(user, User) and user.shop is not None:
            cast("ShopRequest", request).shop = user.shop
            with timezone.override(zoneinfo.ZoneInfo(user.shop.time_zone)):
                return self.get_response(request)
        return self.get_response(request)


class FragmentsAreNoPagesMiddleware:
    """Keep what htmx fetched out of the browser's cache: a page has the same address, and going back would show a bit
    of it without the rest.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if getattr(request, "htmx", False) and not response.has_header("Cache-Control"):
            response["Cache-Control"] = "no-store"
        return response
