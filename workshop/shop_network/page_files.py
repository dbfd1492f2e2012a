"""What the page for a new tablet is made of: itself, the authority's certificate, and the files of its looks."""

from __future__ import annotations

import datetime as dt
import json
import socket
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import segno
from django.conf import settings
from django.template.loader import render_to_string
from django.templatetags.static import static

from workshop.shop_network.authority import Authority
from workshop.shop_network.served import Served

CERTIFICATE, STANDING = "/workshop-authority.crt", "/standing"
_LOOKS = (
    *(f"css/{name}.css" for name in ("fonts", "tokens", "base", "layout", "buttons", "cards", "messages", "trust")),
    *("js/trust.js", "img/mark.svg"),
)
_KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}


@dataclass(frozen=True)
class PageAnswer:
    """One answer of the page's server."""

    status: int
    kind: str
    body: bytes
    headers: tuple[tuple[str, str], ...] = ()


class PageFiles:
    """The answers to what a new tablet may ask, and nothing else of the shop."""

    def __init__(self, authority: Authority, served: Served, *, now: Callable[[], dt.datetime]) -> None:
        self._authority, self.served, self._now = authority, served, now
        folder = Path(settings.BASE_DIR) / "static"
        fonts = [f"fonts/{path.name}" for path in sorted((folder / "fonts").glob("*.woff2"))]
        self._looks = {
            f"/{name}": PageAnswer(200, _KINDS[Path(name).suffix], (folder / name).read_bytes())
            for name in (*_LOOKS, *fonts)
        }

    def answer(self, path: str, host: str) -> PageAnswer:
        """What to answer to a GET of `path` under the name `host` (without its port)."""
        if path == STANDING:
            return PageAnswer(200, "application/json", json.dumps(self._standing()).encode())
        if host not in self.served.hosts:
            return self._page(400, self.served.shown[0], wrong_host=host or "no name")
        if path == "/":
            return self._page(200, host)
        if path == CERTIFICATE:
            attached = (("Content-Disposition", 'attachment; filename="workshop-authority.crt"'),)
            return PageAnswer(200, "application/x-x509-ca-cert", self._authority.for_tablets, attached)
        return self._looks.get(path) or self._page(404, host, wrong_path=True)

    def _standing(self) -> dict[str, object]:
        return {"clock": self._now().isoformat(), "serving": is_listening(self.served.port)}

    def _page(self, status: int, host: str, **what_is_wrong: object) -> PageAnswer:
        shop = self.served.shop_at(host)
        here = f"http://{host}:{self.served.page_port}/"
        page = render_to_string(
            "shop_network/trust.html",
            {
                "shop_address": f"{shop}/",
                "check_address": shop + static("img/app-192.png"),
                "shop_addresses": self.served.shop_addresses,
                "page_address": here,
                "certificate": CERTIFICATE,
                "standing": STANDING,
                "name": _common_name(self._authority),
                "fingerprint": self._authority.fingerprint,
                "qr": segno.make(here, error="m", micro=False).svg_inline(scale=4, border=2, omitsize=True),
                **what_is_wrong,
            },
        )
        answer = PageAnswer(status, "text/html; charset=utf-8", page.encode())
        policy = f"default-src 'none'; style-src 'self'; font-src 'self'; script-src 'self'; img-src 'self' {shop}; "
        policy += "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        return replace(answer, headers=(("Content-Security-Policy", policy),))


def is_listening(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(2)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _common_name(authority: Authority) -> str:
    (name,) = authority.root.subject
    return str(name.value)
