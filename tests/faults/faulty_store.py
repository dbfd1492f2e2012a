"""Stores of files that do not do what they should: each listens on a port of this machine until the test is over."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_REFUSED = b"<Error><Code>AccessDenied</Code><Message>no</Message></Error>"
_BROKEN = b"<Error><Code>InternalError</Code><Message>no</Message></Error>"
Answer = Callable[[socket.socket, threading.Event], None]


def refuses(connection: socket.socket, over: threading.Event) -> None:
    _answer(connection, "403 Forbidden", _REFUSED)


def breaks(connection: socket.socket, over: threading.Event) -> None:
    _answer(connection, "500 Internal Server Error", _BROKEN)


def is_silent(connection: socket.socket, over: threading.Event) -> None:
    connection.recv(65536)
    over.wait(30)


def drips(connection: socket.socket, over: threading.Event) -> None:
    """A byte now and then, always within the limit of a single read."""
    connection.recv(65536)
    connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n\r\n")
    while not over.is_set():
        connection.sendall(b"x")
        time.sleep(0.05)


def _answer(connection: socket.socket, status: str, body: bytes) -> None:
    while connection.recv(65536):
        head = f"HTTP/1.1 {status}\r\nContent-Type: application/xml\r\nContent-Length: {len(body)}\r\n\r\n"
        connection.sendall(head.encode() + body)


@contextmanager
def faulty_store(answer: Answer) -> Iterator[str]:
    """Its address."""
    over = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.1)
        listener = threading.Thread(target=_listen, args=(server, answer, over))
        listener.start()
        try:
            yield f"http://127.0.0.1:{server.getsockname()[1]}"
        finally:
            over.set()
            listener.join()


def _listen(server: socket.socket, answer: Answer, over: threading.Event) -> None:
    begun = []
    while not over.is_set():
        with contextlib.suppress(TimeoutError):
            connection, _ = server.accept()
            begun.append((connection, threading.Thread(target=_serve, args=(connection, answer, over))))
            begun[-1][1].start()
    for connection, thread in begun:
        with contextlib.suppress(OSError):
            connection.shutdown(socket.SHUT_RDWR)
        thread.join()


def _serve(connection: socket.socket, answer: Answer, over: threading.Event) -> None:
    with connection, contextlib.suppress(OSError):
        answer(connection, over)


def nobody() -> str:
    """The address of a port that nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return f"http://127.0.0.1:{server.getsockname()[1]}"
