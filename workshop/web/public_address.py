"""The address at which customers reach the shop from outside: what goes into links, codes and letters for them.

It is the shop's setting, or the server's PUBLIC_ADDRESS. The address in a staff browser's bar is no help: it is often
this machine's own, or works inside the shop only.
"""

from __future__ import annotations

import ipaddress
import re
from urllib.parse import SplitResult, urlsplit

from django.conf import settings
from django.http import HttpRequest
from django.http.request import validate_host

from workshop.staff.models import Shop

WANTING = "The shop has no public address yet, so no link opens for the customer. The owner enters it in Office, Shop."
_LABEL = re.compile(r"(?!-)[a-z0-9-]{1,63}(?<!-)", re.ASCII)
_INSIDE_ENDS = ("localhost", "local", "internal", "lan", "home", "invalid", "test")


def public_address(text: str) -> str:
    """The address in one spelling, without a slash at its end; empty for an empty text.

    Raises ValueError with what is wrong, for whoever typed it.
    """
    typed = text.strip()
    if not typed:
        return ""
    if "://" not in typed:
        raise ValueError("Begin it with https://, for example https://shop.example.org.")
    try:
        parts = urlsplit(typed)
        port = parts.port
    except ValueError:
        raise ValueError("This is not an address. Enter one such as https://shop.example.org.") from None
    if parts.scheme not in {"https", "http"}:
        raise ValueError("Begin it with https://, for example https://shop.example.org.")
    if parts.username is not None or parts.password is not None:
        raise ValueError("Leave name and password out of it: every customer would get them.")
    if parts.path not in {"", "/"} or parts.query or parts.fragment or "?" in typed or "#" in typed:
        raise ValueError("Enter only the beginning, up to the name of the server: the shop adds the rest.")
    host = _host(parts)
    shown = f"[{host}]" if ":" in host else host
    usual = {"https": 443, "http": 80}[parts.scheme]
    return f"{parts.scheme}://{shown}{'' if port in (None, usual) else f':{port}'}"


def _host(parts: SplitResult) -> str:
    """The name or number of the server, as the network spells it. Raises ValueError where customers cannot reach it."""
    inside = ValueError("Customers cannot reach that from outside: enter the name the shop has on the internet.")
    try:
        host = (parts.hostname or "").encode("idna").decode("ascii").rstrip(".")
    except UnicodeError:
        host = ""
    try:
        number = ipaddress.ip_address(parts.hostname or "")
    except ValueError:
        labels = host.split(".")
        if not host or not all(map(_LABEL.fullmatch, labels)) or (labels[-1].isdigit() and len(labels) > 1):
            raise ValueError("This is not an address. Enter one such as https://shop.example.org.") from None
        if len(labels) < 2 or labels[-1] in _INSIDE_ENDS:
            raise inside from None
        return host
    if not number.is_global:
        raise inside
    return str(number)


def is_set_by_server() -> bool:
    return bool(settings.PUBLIC_ADDRESS)


def public_address_of(shop: Shop) -> str:
    """The address customers use, empty where nobody has set one. What the server says goes before the setting."""
    return str(settings.PUBLIC_ADDRESS) or shop.public_address


def link_for_customer(shop: Shop, path: str, request: HttpRequest) -> str:
    """A whole link for a customer, empty where there is no public address. The demo's open on its own machine."""
    base = public_address_of(shop)
    if base:
        return f"{base}{path}"
    return request.build_absolute_uri(path) if shop.is_demo else ""


def link_as_of_now(shop: Shop, link: str) -> str:
    """A link made earlier, at the address of today; empty where there is none, or none was made."""
    base = public_address_of(shop)
    if base and link:
        return f"{base}{urlsplit(link).path}"
    return link if shop.is_demo else ""


def link_for_staff(shop: Shop, path: str, request: HttpRequest) -> str:
    """A link for the shop's own tablets: where this browser reached the shop, unless only this machine can.

    Then the public address, which leads here too; empty without one. The demo is tried out on one machine.
    """
    here = request.build_absolute_uri(path)
    host = urlsplit(here).hostname or ""
    if shop.is_demo or not _only_this_machine(host):
        return here
    base = public_address_of(shop)
    return f"{base}{path}" if base else ""


def _only_this_machine(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")


def server_answers_to(address: str) -> bool:
    """Whether this server takes requests for the name in a public address."""
    shown = urlsplit(address).netloc
    name = shown.rpartition(":")[0] if re.search(r":\d+$", shown) else shown
    return validate_host(name, settings.ALLOWED_HOSTS)
