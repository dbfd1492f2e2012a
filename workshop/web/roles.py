"""Which right a view asks for."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.web.requests import ShopRequest

P = ParamSpec("P")
View = Callable[Concatenate[ShopRequest, P], HttpResponse]


def with_right(right: Right | None) -> Callable[[View[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """Let only those in who have this right; with None, everybody who works in a shop."""

    def decorate(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @wraps(view)
        def checked(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            user = request.user
            if not isinstance(user, User) or user.shop_id is None or not (right is None or user.may(right)):
                raise PermissionDenied
            return view(cast(ShopRequest, request), *args, **kwargs)

        return cast("Callable[Concatenate[HttpRequest, P], HttpResponse]", checked)

    return decorate


anyone_in_the_shop = with_right(None)
counter_only = with_right(Right.WRITE_AT_COUNTER)
bench_only = with_right(Right.WORK_AT_BENCH)
owner_only = with_right(Right.RUN_THE_SHOP)
