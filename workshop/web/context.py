"""What the frame of every page needs: the areas a role uses, and which one is open."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from workshop.staff.models import User
from workshop.staff.roles import areas_of
from workshop.staff.sessions import is_on_device

AREAS: dict[str, tuple[str, str]] = {
    "counter": ("Counter", "counter:today"),
    "bench": ("Bench", "bench:board"),
    "stores": ("Stores", "stores:stock"),
    "office": ("Office", "office:overview"),
    "sums": ("Calculators", "sums:index"),
}

# Pages that are reached from an area but have addresses of their own.
_AREA_OF_NAMESPACE = {"intervals": "counter", "customer": "counter", "charges": "counter", "checklists": "bench"}


def frame(request: HttpRequest) -> dict[str, Any]:
    """The shop for every template; the navigation for whole pages only, not for htmx fragments."""
    user = getattr(request, "user", None)
    if not isinstance(user, User) or user.shop is None:
        return {"sign_in_url": reverse("sign_in")}
    if getattr(request, "htmx", False):
        return {"shop": user.shop}
    if user.shop.is_stopped:  # there is nowhere to go
        return {
            "shop": user.shop,
            "shop_name": user.shop.name,
            "sign_out_url": reverse("sign_out"),
            "sign_in_url": reverse("sign_in"),
        }
    namespace = request.resolver_match.namespace if request.resolver_match else ""
    open_area = _AREA_OF_NAMESPACE.get(namespace, namespace)
    areas = []
    for key in areas_of(user.roles):
        label, route = AREAS[key]
        areas.append({"key": key, "label": label, "url": reverse(route), "current": key == open_area})
    return {
        "shop": user.shop,
        "shop_name": user.shop.name,
        "areas": areas,
        "home_url": reverse("home"),
        "search_url": reverse("counter:search"),
        "sign_out_url": reverse("sign_out"),
        "change_person_url": reverse("change_person") if is_on_device(request) else "",
        "sign_in_url": reverse("sign_in"),
    }
