"""The names of cookies: over TLS with the prefix by which no other host, no plain page may set them (RFC 6265bis)."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest

HOST_ONLY = "__Host-"


def cookie_named(name: str) -> str:
    """As a browser keeps it: without TLS it would take none that has the prefix."""
    return f"{HOST_ONLY}{name}" if settings.SESSION_COOKIE_SECURE else name


def signed_cookie_of(request: HttpRequest, name: str, *, salt: str) -> str:
    """What a signed cookie holds, also one kept before there was a prefix; empty where there is none of this shop."""
    for kept in (cookie_named(name), name):
        # Signed under the name it was set with.
        if held := request.get_signed_cookie(kept, default="", salt=salt):
            return str(held)
    return ""
