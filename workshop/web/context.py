"""What the frame of every page needs: the areas a role uses, and which one is open."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from workshop.staff.models import User

_AREAS: tuple[tuple[str, str, str], ...] = (
    ("counter", "Counter", "counter:today"),
    ("bench", "Bench", "bench:board"),
    ("stores", "Stores", "stores:stock"),
    ("office", "Office", "office:overview"),
)
_AREAS_OF_ROLE = {
    User.Role.COUNTER: ("counter", "bench", "stores"),
    User.Role.MECHANIC: ("bench", "counter", "stores"),
    User.Role.OWNER: ("counter", "bench", "stores", "office"),
}


def frame(request: HttpRequest) -> dict[str, Any]:
    """Areas for the navigation and the shop's name."""
    user = getattr(request, "user", None)
    if not isinstance(user, User) or user.shop is None or getattr(request, "htmx", False):
        return {}
    open_area = request.resolver_match.namespace if request.resolver_match else ""
    known = {key: (label, route) for key, label, route in _AREAS}
    areas = [
        {"key": key, "label": known[key][0], "url": reverse(known[key][1]), "current": key == open_area}
        for key in _AREAS_OF_ROLE[User.Role(user.role)]
    ]
    return {"areas": areas, "shop": user.shop}
