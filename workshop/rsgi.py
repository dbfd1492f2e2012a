"""The entry point of the production server: bodies arrive here, then a thread works on the request as WSGI has it.

Granian's own WSGI takes a thread as soon as the header is there, and waits in it for the body without end: a few
senders that stop would stop the shop. Here a thread is taken once all is there, and given back before the answer goes.
"""

from __future__ import annotations

import asyncio
import io
import itertools
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import IO, Any

from django.conf import settings
from granian.rsgi import HTTPProtocol, ProtocolClosed, ProtocolError, Scope  # type: ignore[attr-defined]

from workshop.apart.working import begin_workers, end_workers
from workshop.running.seen_serving import begin_being_seen, end_being_seen
from workshop.serving import size_for
from workshop.web.arriving import Arrivals, NoRoom, StoppedSending
from workshop.web.uploads import MOST_OF_OTHERS_BYTES, NOT_TAKEN_IN, may_send
from workshop.wsgi import application

Headers = list[tuple[str, str]]
AT_ONCE_BYTES = 256 << 10  # a longer answer that comes in pieces goes out piece by piece
LIVE = "/live"
TAKES_WITHIN_S = 60.0  # how long a browser may leave such a piece lying


@dataclass
class Reply:
    """What goes back: the first bytes, and what comes after them where it comes in pieces."""

    status: int = 500
    headers: Headers = field(default_factory=list)
    first: bytes = b""
    rest: Iterator[bytes] | None = None
    close: Callable[[], object] = lambda: None


class Server:
    """Requests to one WSGI application, at most `threads` of them worked on at once."""

    def __init__(self, application: Callable[..., Iterable[bytes]], threads: int) -> None:
        self._application = application
        self._threads = ThreadPoolExecutor(threads, thread_name_prefix="work")
        self._arrivals = Arrivals()

    async def __call__(self, scope: Scope, protocol: HTTPProtocol) -> None:
        if scope.proto != "http":
            return
        if scope.path == LIVE and scope.method == "GET":  # without a thread: all of them may be waiting for a database
            protocol.response_str(
                HTTPStatus.OK, [("content-type", "text/plain"), ("cache-control", "no-store")], "live\n"
            )
            return
        environ = environ_of(scope)
        length = length_of(environ)
        if not length or (length > MOST_OF_OTHERS_BYTES and not await self._in_thread(may_send, environ, length)):
            await self._answer(environ, io.BytesIO(), protocol)
            return
        try:
            body = await self._arrivals.take_in(protocol, length)
        except (StoppedSending, ProtocolError, ProtocolClosed):
            refuse(protocol, HTTPStatus.REQUEST_TIMEOUT)
            return
        except NoRoom as refused:
            await self._answer(environ | {NOT_TAKEN_IN: refused}, io.BytesIO(), protocol)
            return
        try:
            await self._answer(environ, body.file, protocol)
        finally:
            body.close()

    async def _answer(self, environ: dict[str, Any], body: IO[bytes], protocol: HTTPProtocol) -> None:
        answer = await self._in_thread(self._work, environ | {"wsgi.input": body})
        if answer.rest is None:
            protocol.response_bytes(answer.status, answer.headers, answer.first)
            return
        try:
            transport = protocol.response_stream(answer.status, answer.headers)
            piece: bytes | None = answer.first
            while piece is not None:
                async with asyncio.timeout(TAKES_WITHIN_S):
                    await transport.send_bytes(piece)
                piece = await self._in_thread(next, answer.rest, None)
        except TimeoutError:
            pass  # given up: the connection closes within its answer
        finally:
            await self._in_thread(answer.close)

    def __rsgi_init__(self, loop: asyncio.AbstractEventLoop) -> None:
        """The process takes its first request soon: its workers begin beside it, and other machines see it."""
        begin_being_seen()
        begin_workers()

    def __rsgi_del__(self, loop: asyncio.AbstractEventLoop) -> None:
        """The process ends: so do its workers."""
        end_workers()
        end_being_seen()

    def _work(self, environ: dict[str, Any]) -> Reply:
        answer = Reply()

        def start_response(status: str, headers: Headers, exc_info: object = None) -> None:
            answer.status, answer.headers = int(status.split(" ", 1)[0]), headers

        result = self._application(environ, start_response)
        answer.close = getattr(result, "close", answer.close)
        try:
            pieces, first = iter(result), []
            for piece in pieces:
                first.append(piece)
                if getattr(result, "streaming", False) and sum(map(len, first)) > AT_ONCE_BYTES:
                    answer.rest = pieces
                    break
            answer.first = b"".join(first)
        finally:
            if answer.rest is None:
                answer.close()
        return answer

    async def _in_thread(self, work: Callable[..., Any], *arguments: Any) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._threads, work, *arguments)


def refuse(protocol: HTTPProtocol, status: HTTPStatus) -> None:
    """An answer without the application, after which nothing more is read from this connection."""
    protocol.response_bytes(status, [("content-type", "text/plain"), ("connection", "close")], status.phrase.encode())


def length_of(environ: dict[str, Any]) -> int:
    """The size of the body in bytes; 0 where none is said, and such a body is not read."""
    said = environ.get("CONTENT_LENGTH", "")
    return int(said) if said.isdecimal() and len(said) <= 18 else 0


def environ_of(scope: Scope) -> dict[str, Any]:
    """The request as PEP 3333 wants it. A name with `_` is left out: it would pass for the proxy's with `-`."""
    host, _, port = scope.server.rpartition(":")
    environ: dict[str, Any] = {
        "REQUEST_METHOD": scope.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": scope.path.encode().decode("latin-1"),
        "QUERY_STRING": scope.query_string,
        "SERVER_NAME": host.strip("[]"),
        "SERVER_PORT": port,
        "SERVER_PROTOCOL": f"HTTP/{scope.http_version}",
        "REMOTE_ADDR": scope.client.rpartition(":")[0].strip("[]"),
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.scheme,
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }
    named = sorted(scope.headers.items(), key=lambda header: header[0])  # a stable sort: repeated ones stay in order
    for name, group in itertools.groupby(named, key=lambda header: header[0]):
        if "_" in name:
            continue
        key = name.upper().replace("-", "_")
        joint = "; " if key == "COOKIE" else ","
        whole = joint.join(value for _, value in group)
        environ[key if key in {"CONTENT_TYPE", "CONTENT_LENGTH"} else f"HTTP_{key}"] = whole
    return environ


# So long a page that takes little waits for the interpreter after each of its queries, beside one that takes long; by
# itself Python takes ten times that.
sys.setswitchinterval(0.0005)
server = Server(application, size_for(settings.DATABASES["default"]["ENGINE"]).threads)
