"""The way from the server's request to WSGI and back: headers, addresses, long answers, bodies unread."""

from __future__ import annotations

import asyncio
import errno
from collections.abc import AsyncIterator, Callable, Iterable, Iterator
from types import SimpleNamespace
from typing import Any, cast

import pytest
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse

from tests.in_a_thread import in_a_thread
from workshop.rsgi import AT_ONCE_BYTES, Server, environ_of, length_of
from workshop.web.arriving import ArrivedBody, NoRoom
from workshop.web.uploads import RefuseHugeMiddleware


class Headers:
    def __init__(self, *pairs: tuple[str, str]) -> None:
        self.pairs = pairs

    def items(self) -> list[tuple[str, str]]:
        return list(self.pairs)


def asked(*headers: tuple[str, str], client: str = "127.0.0.1:5000", path: str = "/") -> Any:
    return SimpleNamespace(
        proto="http", http_version="1.1", server="127.0.0.1:8000", client=client, scheme="http", method="POST",
        path=path, query_string="q=%C3%A9", headers=Headers(*headers),
    )  # fmt: skip


class Protocol:
    """What the server offers a request, and what was answered by it."""

    def __init__(self, *chunks: bytes) -> None:
        self.chunks, self.read = chunks, 0
        self.status, self.sent = 0, list[bytes]()

    async def __aiter__(self) -> AsyncIterator[bytes]:
        for chunk in self.chunks:
            self.read += len(chunk)
            yield chunk

    def response_bytes(self, status: int, headers: list[tuple[str, str]], body: bytes) -> None:
        self.status = status
        self.sent.append(body)

    def response_stream(self, status: int, headers: list[tuple[str, str]]) -> Protocol:
        self.status = status
        return self

    async def send_bytes(self, piece: bytes) -> None:
        self.sent.append(piece)


def answer(application: Callable[..., Iterable[bytes]], scope: Any, *chunks: bytes) -> Protocol:
    protocol = Protocol(*chunks)
    in_a_thread(lambda: asyncio.run(Server(application, 1)(scope, cast("Any", protocol))))
    return protocol


def echo(environ: dict[str, Any], start_response: Any) -> list[bytes]:
    start_response("200 OK", [("X-A", "1")])
    return [environ["wsgi.input"].read()]


def test_a_request_as_pep_3333_has_it() -> None:
    environ = environ_of(
        asked(
            ("cookie", "a=1"), ("x-forwarded-for", "192.0.2.1"), ("cookie", "b=2"), ("x-forwarded-for", "192.0.2.2"),
            ("content-length", "3"), ("content-type", "text/plain"), ("host", "shop.example"),
            client="[2001:db8::5]:443", path="/caf\u00e9",
        )
    )  # fmt: skip
    assert environ["HTTP_COOKIE"] == "a=1; b=2"
    assert environ["HTTP_X_FORWARDED_FOR"] == "192.0.2.1,192.0.2.2"
    assert (environ["CONTENT_LENGTH"], environ["CONTENT_TYPE"]) == ("3", "text/plain")
    assert environ["REMOTE_ADDR"] == "2001:db8::5"
    assert environ["PATH_INFO"].encode("latin-1").decode() == "/caf\u00e9"
    assert environ["QUERY_STRING"] == "q=%C3%A9"
    assert (environ["SERVER_NAME"], environ["SERVER_PORT"]) == ("127.0.0.1", "8000")


def test_a_header_with_an_underscore_does_not_pass_for_the_proxys() -> None:
    environ = environ_of(asked(("x_forwarded_proto", "https"), ("x_forwarded_for", "192.0.2.9")))
    assert not [name for name in environ if "FORWARDED" in name]


@pytest.mark.parametrize(("said", "length"), [("12", 12), ("0", 0), ("", 0), ("-1", 0), ("1e3", 0), ("9" * 30, 0)])
def test_the_size_of_a_body(said: str, length: int) -> None:
    assert length_of({"CONTENT_LENGTH": said}) == length


def test_a_body_is_read_before_the_application_runs() -> None:
    found = answer(echo, asked(("content-length", "4")), b"ab", b"cd")
    assert (found.status, found.sent) == (200, [b"abcd"])


def test_a_body_that_breaks_off_never_reaches_the_application() -> None:
    found = answer(echo, asked(("content-length", "5")), b"ab", b"cd")
    assert (found.status, found.sent) == (408, [b"Request Timeout"])


def test_a_body_without_a_size_and_one_too_large_are_not_read() -> None:
    for headers in ([("transfer-encoding", "chunked")], [("content-length", str(1 << 40))]):
        found = answer(echo, asked(*headers), b"abc")
        assert (found.status, found.sent, found.read) == (200, [b""], 0)


@pytest.mark.parametrize("full", [True, False])
def test_a_body_without_room_is_read_to_its_end_and_answered_in_words(
    monkeypatch: pytest.MonkeyPatch, full: bool
) -> None:
    def refuse(*_: object) -> None:
        raise NoRoom from (OSError(errno.ENOSPC, "No space left on device") if full else None)

    monkeypatch.setattr(ArrivedBody, "_keep", refuse)

    def application(environ: dict[str, Any], start_response: Any) -> list[bytes]:
        page = RefuseHugeMiddleware(lambda _: HttpResponse("taken in"))(WSGIRequest(environ))
        start_response(f"{page.status_code} {page.reason_phrase}", list(page.items()))
        return [page.content]

    found = answer(application, asked(("content-length", "4")), b"ab", b"cd")
    assert (found.status, found.read) == (503, 4)
    assert ("The disk is full" if full else "Too many large files") in b"".join(found.sent).decode()


class Pieces:
    """A long answer: how far it was asked for, and whether it was closed."""

    streaming = True

    def __init__(self, count: int) -> None:
        self.count, self.closed = count, 0

    def __iter__(self) -> Iterator[bytes]:
        return (b"x" * 100_000 for _ in range(self.count))

    def close(self) -> None:
        self.closed += 1


@pytest.mark.parametrize(("count", "sent"), [(0, 1), (1, 1), (2, 1), (3, 1), (6, 4)])
def test_a_long_answer_goes_out_in_pieces_and_a_short_one_at_once(count: int, sent: int) -> None:
    pieces = Pieces(count)

    def application(environ: dict[str, Any], start_response: Any) -> Pieces:
        start_response("200 OK", [])
        return pieces

    found = answer(application, asked())
    assert b"".join(found.sent) == b"x" * 100_000 * count
    assert len(found.sent) == (sent if 100_000 * count > AT_ONCE_BYTES else 1)
    assert pieces.closed == 1
