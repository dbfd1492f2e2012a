"""Pages for what went wrong, in the shop's words."""

from __future__ import annotations

import contextlib
import sys

from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.csrf import requires_csrf_token

from workshop.web.faults import fault_page, words_for
from workshop.web.request_id import current_request_id
from workshop.web.unknown_names import unknown_host, unknown_origin, unknown_origin_page

_BLOCK = 1 << 20
_MOST_HEARD_OUT = 64 << 20


@requires_csrf_token
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form from another address, or whose session ended; the browser's Back still holds what was typed."""
    if origin := unknown_origin(request):
        return unknown_origin_page(request, origin)
    return render(request, "errors/form_expired.html", status=403)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """More fields than any form has, or a host that is not ours. Rendered without the request, which is what is bad."""
    if isinstance(exception, DisallowedHost):
        return unknown_host(request)
    return HttpResponse(render_to_string("errors/bad_request.html"), status=400)


@requires_csrf_token
def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/not_allowed.html", status=403)


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/not_found.html", status=404)


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of the program, or of the machine under it, wherever it was met.

    Rendered without the request: what the frame of a page asks for may be what is broken.
    """
    error = sys.exc_info()[1]
    _hear_out(request)
    if error is not None and (words := words_for(error)):
        return fault_page(*words)
    return HttpResponse(render_to_string("errors/broken.html", {"request_id": current_request_id()}), status=500)


def _hear_out(request: HttpRequest) -> None:
    """Take what is still being sent: a browser that is cut off half way shows its own error and not this page."""
    with contextlib.suppress(OSError, ValueError):
        for _ in range(_MOST_HEARD_OUT // _BLOCK):
            if not request.read(_BLOCK):
                return
