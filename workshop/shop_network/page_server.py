"""The small plain-HTTP server of the page for a new tablet: no cookies, no app, nothing written, few at once."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, cast
from urllib.parse import urlsplit

from workshop.shop_network.authority import is_local
from workshop.shop_network.page_files import PageAnswer, PageFiles

AT_ONCE = 16
SILENT_FOR_S = 10.0
_OUTSIDE = PageAnswer(403, "text/plain; charset=utf-8", "This page is for the shop’s own network.\n".encode())
_ALWAYS = (
    ("Cache-Control", "no-store"),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Connection", "close"),
)


class PageServer(ThreadingHTTPServer):
    """Answers from `files`, which may be exchanged while it runs."""

    daemon_threads = True

    def __init__(self, address: str, port: int, files: PageFiles) -> None:
        self.files = files
        self._room = threading.BoundedSemaphore(AT_ONCE)
        super().__init__((address, port), _Handler)

    def process_request(self, request: Any, client_address: Any) -> None:
        """A thread of the few; where all are busy the connection closes, and a browser tries again."""
        if not self._room.acquire(blocking=False):
            self.shutdown_request(request)
            return
        super().process_request(request, client_address)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._room.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser that went away is no news."""


class _Handler(BaseHTTPRequestHandler):
    timeout = SILENT_FOR_S
    server_version, sys_version = "workshop", ""

    def do_GET(self) -> None:
        host = _host_of(self.headers.get("Host", ""))
        inside = is_local(str(self.client_address[0]))
        answer = self._files().answer(urlsplit(self.path).path, host) if inside else _OUTSIDE
        self.send_response(answer.status)
        headers = (("Content-Type", answer.kind), ("Content-Length", str(len(answer.body))), *answer.headers, *_ALWAYS)
        for name, value in headers:
            self.send_header(name, value)
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(answer.body)

    def do_HEAD(self) -> None:
        self.do_GET()

    def _files(self) -> PageFiles:
        return cast("PageServer", self.server).files

    def log_message(self, format: str, *args: Any) -> None:
        """Nobody is written down."""


@contextmanager
def page_served(address: str, port: int, files: PageFiles) -> Iterator[PageServer]:
    """The page's server in a thread of its own. Raises OSError where the port is taken."""
    server = PageServer(address, port, files)
    thread = threading.Thread(target=server.serve_forever, args=(0.1,), daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def _host_of(header: str) -> str:
    """The name in a Host header, without its port."""
    try:
        return (urlsplit(f"//{header}").hostname or "").rstrip(".")
    except ValueError:
        return ""
