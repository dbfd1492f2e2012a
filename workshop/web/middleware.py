"""Who is signed in, login for everything, and the shop's own clock."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar, cast

from django.contrib import messages
from django.contrib.auth.middleware import AuthenticationMiddleware
from django.contrib.auth.middleware import LoginRequiredMiddleware as DjangoLoginRequired
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django_htmx.http import HttpResponseClientRedirect

from workshop.staff.known_browsers import news_for, remember
from workshop.staff.models import User
from workshop.staff.open_sessions import note_seen
from workshop.staff.second_factor import must_set_up
from workshop.staff.sessions import person_of
from workshop.staff.stopped_shops import ShopStopped
from workshop.web.carried import carried_of, files_sent
from workshop.web.request_id import shop_is_served
from workshop.web.stopped_page import stopped_page

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


def asked_by_itself(view: V) -> V:
    """Mark a view that a page asks again and again: that a page lies open says nobody is there."""
    view.asked_by_itself = True  # type: ignore[attr-defined]
    return view


class PersonMiddleware(AuthenticationMiddleware):
    """The person of the session, who may have come in by a short code, or on a device that was ended."""

    def process_request(self, request: HttpRequest) -> None:
        super().process_request(request)
        request.user = cast(User, SimpleLazyObject(lambda: person_of(request)))

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        """A browser in which the password was right just now is known from now on."""
        remember(request, response)
        return response


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
        request.is_of_staff = True  # type: ignore[attr-defined]  # NothingIsKeptMiddleware asks it
        shop_is_served(user.shop_id or 0)
        if user.shop is not None and user.shop.is_stopped:
            return stopped_page(request, user.shop)
        if _page_person(request) not in {"", str(user.pk)}:
            return _somebody_else(request)
        if not getattr(view_func, "asked_by_itself", False):
            note_seen(request)
        first = _due_first(user, view_func)
        if first is None:
            _tell_news(request, user)
            return None
        return HttpResponseClientRedirect(reverse(first)) if getattr(request, "htmx", False) else redirect(first)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Who would have come in just now, had their shop not been suspended or closed."""
        return stopped_page(request, exception.shop) if isinstance(exception, ShopStopped) else None

    def handle_no_permission(self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]) -> Any:
        if getattr(request, "htmx", False):
            return HttpResponse("Signed out. Sign in again in another tab, then repeat.", status=401)
        if request.method not in {"GET", "HEAD"}:
            context = {"carried": carried_of(request), "had_files": files_sent(request)}
            answer = render(request, "errors/signed_out.html", context, status=401)
            answer["Cache-Control"] = "no-store"
            return answer
        return super().handle_no_permission(request, view_func)


def _tell_news(request: HttpRequest, user: User) -> None:
    """On the next whole page: in which new browser somebody signed in by this name."""
    if request.method != "GET" or getattr(request, "htmx", False):
        return
    for new in news_for(request, user):
        when = timezone.localtime(new.first_at, zoneinfo.ZoneInfo(user.shop.time_zone) if user.shop else None)
        messages.warning(
            request,
            f"Somebody signed in by your name on a device that was new, {when:%-d %b %Y, %H:%M}: {new.browser}, from "
            f"{new.address}. If that was not you, change your password now, and end the other sessions there.",
        )


def _page_person(request: HttpRequest) -> str:
    """Whose page sends this, where it says so."""
    return request.headers.get("X-Person") or (request.POST.get(PAGE_PERSON, "") if request.method == "POST" else "")


def _somebody_else(request: HttpRequest) -> HttpResponse:
    if getattr(request, "htmx", False):
        said = f"{request.user} is signed in on this device now. Nothing was sent: this page is somebody else’s."
        return HttpResponse(said, status=401, headers={"X-Somebody-Else": "yes"})
    context = {"carried": carried_of(request), "had_files": files_sent(request)}
    return render(request, "errors/somebody_else.html", context, status=401)


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


class NothingIsKeptMiddleware:
    """Keep what staff see, and what htmx fetched, out of the browser's cache.

    After somebody signed out, the next at the device reads none of it; and a fragment has the address of its page, so
    that going back would show a bit of it without the rest. What a view says itself holds. The bench's worker keeps
    pages all the same, in a store of its own that it empties when somebody signs out.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        is_ours = getattr(request, "htmx", False) or getattr(request, "is_of_staff", False)
        if is_ours and not response.has_header("Cache-Control"):
            response["Cache-Control"] = "no-store"
        return response
