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


def throttled_address(request: HttpRequest) -> str:
    """What failed tries are counted by. An IPv6 line has 2^64 addresses and takes a new one at will: its network."""
    address = client_address(request)
    if not _is_address(address):
        return address
    parsed = ipaddress.ip_address(address)
    if isinstance(parsed, ipaddress.IPv4Address):
        return address
    if parsed.ipv4_mapped:
        return str(parsed.ipv4_mapped)
    return str(ipaddress.IPv6Network((parsed.packed, 64), strict=False).network_address)


def is_another_device(request: HttpRequest) -> bool:
    """Whether a request comes from elsewhere than this machine; where it comes from nowhere to be seen, it does not."""
    address = client_address(request)
    return _is_address(address) and not ipaddress.ip_address(address).is_loopback


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
