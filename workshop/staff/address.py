"""Where a request comes from, for the lock-out after failed tries."""

from __future__ import annotations

import ipaddress

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The browser's address. Behind the shop's proxy it is the last one that the proxy wrote down.

    Earlier entries of the header are the browser's own claim, and count for nothing.
    """
    if settings.BEHIND_PROXY:
        forwarded = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        if _is_address(forwarded):
            return forwarded
    return str(request.META.get("REMOTE_ADDR", ""))


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
