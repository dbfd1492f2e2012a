"""Pages for what went wrong, in the shop's words."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.csrf import requires_csrf_token


@requires_csrf_token
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose session ended meanwhile; the browser's Back still holds what was typed."""
    return render(request, "errors/form_expired.html", status=403)


@requires_csrf_token
def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/not_allowed.html", status=403)


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/not_found.html", status=404)


def broken(request: HttpRequest) -> HttpResponse:
    """Rendered without the request: what the frame of a page asks for may be what is broken."""
    return HttpResponse(render_to_string("errors/broken.html"), status=500)
