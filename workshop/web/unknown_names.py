"""A name, origin or scheme that the shop does not know as its own: what to set, on the page and in the terminal."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

logger = logging.getLogger("workshop.names")
_MOST_TOLD = 20  # a stranger who makes names up fills no terminal
_told: set[str] = set()
_PLAIN = re.compile(r"(?:https?://)?(?:\[[0-9A-Fa-f:.]{2,50}\]|[A-Za-z0-9._-]{1,100})(?::\d{1,5})?", re.ASCII)


def unknown_host(request: HttpRequest) -> HttpResponse:
    """Rendered without the request: whatever asks it for its host fails again."""
    name = re.sub(r":\d+$", "", _plain(request.META.get("HTTP_HOST", "")))
    _tell(f"The shop was asked for under “{name}”. If that is its name, put it into ALLOWED_HOSTS and start again.")
    return _page("errors/unknown_host.html", 400, {"name": name})


def unknown_origin(request: HttpRequest) -> str:
    """The origin of a form where it is not the shop's; empty where it is, or where none is said."""
    said = request.META.get("HTTP_ORIGIN") or request.META.get("HTTP_REFERER", "")
    parts = _split(said)
    if parts is None:
        return ""
    origin = f"{parts[0]}://{parts[1]}"
    try:
        own = f"{request.scheme}://{request.get_host()}"
    except DisallowedHost:
        return ""
    return "" if origin == own or origin in settings.CSRF_TRUSTED_ORIGINS else _plain(origin)


def unknown_origin_page(request: HttpRequest, origin: str) -> HttpResponse:
    own = f"{request.scheme}://{request.get_host()}"
    _tell(
        f"A form came from “{origin}”, and the shop answered as “{own}”: it was refused. If that is the shop’s own, "
        "put it into TRUSTED_ORIGINS and start again."
    )
    return _page("errors/unknown_origin.html", 403, {"origin": origin, "own": own})


def scheme_middleware(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Before Django's own, which sends plain HTTP on to HTTPS: where no proxy spoke there is none to send it to."""
    exempt = [re.compile(path) for path in settings.SECURE_REDIRECT_EXEMPT]

    def ask(request: HttpRequest) -> HttpResponse:
        if request.is_secure() or not (settings.BEHIND_PROXY and settings.SECURE_SSL_REDIRECT):
            return get_response(request)
        path = request.path.lstrip("/")
        if "HTTP_X_FORWARDED_PROTO" in request.META or any(one.search(path) for one in exempt):
            return get_response(request)
        _tell(
            "Somebody opened the shop without TLS, and no proxy spoke for it (X-Forwarded-Proto). For tablets: "
            "serve --shop-network. On a network you trust: serve --http."
        )
        return _page("errors/no_tls.html", 400, {})

    return ask


def _page(template: str, status: int, context: dict[str, object]) -> HttpResponse:
    network = settings.SHOP_NETWORK
    known = {"shop_addresses": network.shop_addresses} if network else {}
    return HttpResponse(render_to_string(template, {**context, **known}), status=status)


def _split(address: str) -> tuple[str, str] | None:
    try:
        parts = urlsplit(address)
    except ValueError:
        return None
    return (parts.scheme, parts.netloc) if parts.scheme and parts.netloc else None


def _plain(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else "a name that is none"


def _tell(words: str) -> None:
    if words not in _told and len(_told) < _MOST_TOLD:
        _told.add(words)
        logger.warning(words)
