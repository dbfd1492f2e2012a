"""Which right a view asks for, and whether it asks for the password after a short code."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django_htmx.http import HttpResponseClientRedirect

from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.web.carried import carried_of, files_sent
from workshop.web.requests import ShopRequest

P = ParamSpec("P")
View = Callable[Concatenate[ShopRequest, P], HttpResponse]


def with_right(right: Right | None) -> Callable[[View[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """Let only those in who have this right; with None, everybody who works in a shop."""

    def decorate(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @wraps(view)
        def checked(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            user = request.user
            if not isinstance(user, User) or user.shop_id is None:
                raise PermissionDenied
            if right is not None and not user.may(right):
                if right in user.rights_with_password:
                    return ask_for_password(request)
                raise PermissionDenied
            return view(cast(ShopRequest, request), *args, **kwargs)

        return cast("Callable[Concatenate[HttpRequest, P], HttpResponse]", checked)

    return decorate


def with_password(view: View[P]) -> View[P]:
    """Ask for the password first, of whoever came in by a short code. Stands below the right that is asked for."""

    @wraps(view)
    def checked(request: ShopRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        return ask_for_password(request) if request.user.by_code else view(request, *args, **kwargs)

    return cast("View[P]", checked)


def ask_for_password(request: HttpRequest) -> HttpResponse:
    """To the page that asks for it, and back; what a form sent is not done, and the page holds it."""
    if getattr(request, "htmx", False):
        return HttpResponseClientRedirect(reverse("give_password"))
    if request.method in {"GET", "HEAD"}:
        return redirect(f"{reverse('give_password')}?{urlencode({'next': request.get_full_path()})}")
    context = {"carried": carried_of(request), "had_files": files_sent(request)}
    return render(request, "errors/password_first.html", context, status=403)


anyone_in_the_shop = with_right(None)
counter_only = with_right(Right.WRITE_AT_COUNTER)
money_only = with_right(Right.TAKE_MONEY)
corrects_takings = with_right(Right.CORRECT_TAKINGS)
bench_only = with_right(Right.WORK_AT_BENCH)
owner_only = with_right(Right.RUN_THE_SHOP)
