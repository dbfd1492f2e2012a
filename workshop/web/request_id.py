"""A name for every request, on its log lines, in its answer, and on the page that says something broke."""

from __future__ import annotations

import logging
import re
import time
import uuid
from collections.abc import Callable
from contextvars import ContextVar
from dataclasses import dataclass

from django.conf import settings
from django.http import HttpRequest, HttpResponse

HEADER = "X-Request-ID"
_LIKELY = re.compile(r"[A-Za-z0-9._-]{8,64}", re.ASCII)
_log = logging.getLogger("workshop.requests")


@dataclass
class Named:
    """The request that this thread works on, as the log may know it: no address, which can hold a customer's link."""

    request_id: str
    method: str
    route: str = ""
    shop: int = 0


_current: ContextVar[Named | None] = ContextVar("current_request", default=None)


def current_request() -> Named | None:
    return _current.get()


def shop_is_served(key: int) -> None:
    """Whose request it is, by the shop's key: a number, so that a log names nobody."""
    if named := _current.get():
        named.shop = key


def current_request_id() -> str:
    named = _current.get()
    return named.request_id if named else ""


class RequestIdMiddleware:
    """Name the request first of all, and log one line about it last of all."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        named = Named(_name_of(request), request.method or "")
        token = _current.set(named)
        began = time.monotonic()
        try:
            response = self.get_response(request)
            response[HEADER] = named.request_id
            named.route = _route_of(request)
            facts = {"status": response.status_code, "milliseconds": round(1000 * (time.monotonic() - began))}
            _log.info("Answered", extra=facts)
            return response
        finally:
            _current.reset(token)

    def process_view(self, request: HttpRequest, *args: object) -> None:
        if named := _current.get():
            named.route = _route_of(request)


def _name_of(request: HttpRequest) -> str:
    """The proxy's name for it, where a proxy is trusted; else a new one."""
    given = request.headers.get(HEADER, "") if settings.BEHIND_PROXY else ""
    return given if _LIKELY.fullmatch(given) else uuid.uuid4().hex


def _route_of(request: HttpRequest) -> str:
    return request.resolver_match.view_name if request.resolver_match else ""
