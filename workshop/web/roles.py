"""Which role may use a view."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from workshop.staff.models import User
from workshop.web.requests import ShopRequest

P = ParamSpec("P")
View = Callable[Concatenate[ShopRequest, P], HttpResponse]


def for_roles(*roles: str) -> Callable[[View[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """Let only these roles in; the owner may do whatever the others may."""

    def decorate(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @wraps(view)
        def checked(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            user = request.user
            if not isinstance(user, User) or user.shop_id is None or user.role not in {*roles, User.Role.OWNER}:
                raise PermissionDenied
            return view(cast(ShopRequest, request), *args, **kwargs)

        checked.roles = frozenset({*roles, User.Role.OWNER})  # type: ignore[attr-defined]
        return cast("Callable[Concatenate[HttpRequest, P], HttpResponse]", checked)

    return decorate


anyone_in_the_shop = for_roles(User.Role.COUNTER, User.Role.MECHANIC)
owner_only = for_roles(User.Role.OWNER)
