"""What twenty-four devices do at once, for Locust: tablets that tick and photograph, desks that search and book.

Each opens its pages as a browser does, with styles, scripts, images and fragments over up to six connections. Beside
them are senders that say nothing, half of it, or all of it too slowly.

Read by `python -m locust -f`, away from the tests' process. `LOAD_PEOPLE` is a file with who they are, made by
tests/benchmarks/load_shop.py; the id of each tick, booking and photo that the shop acknowledged goes into `LOAD_KEPT`.
"""

from __future__ import annotations

import html
import io
import itertools
import json
import os
import random
import re
import ssl
import time
import uuid
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urljoin, urlsplit

import gevent
from locust import FastHttpUser, User, between, constant, events, task

TOKEN = "t" * 32  # a form's token is the cookie's
PEOPLE = json.loads(Path(os.environ["LOAD_PEOPLE"]).read_text())
ORIGIN = os.environ["LOAD_ORIGIN"]
HOST_ONLY = "__Host-"  # by which a server that does TLS itself knows them; one behind a test need not
STRANGERS = int(os.environ["LOAD_STRANGERS"])
REST_S = tuple(map(float, os.environ["LOAD_REST_S"].split("-")))  # of a person, between two things, from and to
KEPT: dict[str, list[str]] = {"ticked": [], "booked": [], "photographed": []}
TYPED = ("wrenfield", "kettlebeck", "hesper", "culvert", "01632 960", "creaks under")
CONNECTIONS = 6  # what browsers open to one host: RFC 9112, 9.4, and common practice
PAUSE_TYPING_S = 0.15
NEWS_EVERY_S = 4.0
BUSY, BUSY_STATUS, MOST_TRIES = object(), 503, 60  # with Retry-After, in words: others wait
FORM = "application/x-www-form-urlencoded"
# What a browser fetches of a page by itself.
_PARTS = re.compile(r'<(?:img|script)\b[^>]*?\bsrc="([^"]+)"|<link\b[^>]*?rel="stylesheet"[^>]*?href="([^"]+)"')
_FRAGMENTS = re.compile(r'<[^>]*?\bhx-get="([^"]+)"[^>]*?\bhx-trigger="(?:load|revealed|intersect)[^>]*>')


def _write_what_was_kept(**_: Any) -> None:
    Path(os.environ["LOAD_KEPT"]).write_text(json.dumps(KEPT))


events.quitting.add_listener(_write_what_was_kept)


class Person(FastHttpUser):
    """A device on which somebody is signed in, with the files that its browser has kept."""

    abstract = True
    concurrency = CONNECTIONS
    network_timeout = connection_timeout = 180.0  # a busy machine is late, which is told by the times
    seats: list[dict[str, Any]] = []

    def on_start(self) -> None:
        self.seat = self.seats.pop()
        self.chance = random.Random(self.seat["session"])
        self.has: set[str] = set()

    def ask(
        self,
        kind: str,
        path: str,
        sent: dict[str, str] | None = None,
        *,
        htmx: bool = False,
        body: bytes | None = None,
        content_type: str = FORM,
        may_wait: bool = False,
    ) -> Any:
        """One request under the name of its kind; None where it went wrong, which Locust counts.

        With `may_wait`, BUSY where the shop says that others wait: nothing was taken, and it is sent again.
        """
        held = (f"{prefix}sessionid={self.seat['session']}; {prefix}csrftoken={TOKEN}" for prefix in ("", HOST_ONLY))
        headers = {"Cookie": "; ".join(held)}
        headers |= {"X-CSRFToken": TOKEN}
        headers |= {"HX-Request": "true"} if htmx else {}
        if sent is not None and body is None:
            body = urlencode({"csrfmiddlewaretoken": TOKEN, **sent}).encode()
        headers |= {"Content-Type": content_type, "Origin": ORIGIN} if body is not None else {}
        wanted = 302 if body is not None and not htmx else 200
        with self.client.request(
            "GET" if body is None else "POST",
            path,
            name=kind,
            data=body,  # type: ignore[arg-type]  # bytes go out as they are
            headers=headers,
            allow_redirects=False,
            catch_response=True,
        ) as answer:
            if may_wait and answer.status_code == BUSY_STATUS:
                answer.success()
                return BUSY
            if answer.status_code != wanted:
                answer.failure(f"{kind}: {answer.status_code} {str(answer.error or answer.text)[:200]}")
                return None
            answer.success()
            return answer

    def keep(self, what: str, made: str) -> None:
        """It was acknowledged."""
        KEPT[what].append(made)

    def open(self, kind: str, path: str) -> Any:
        """A page, and then all at once what belongs to it."""
        from gevent.pool import Pool

        answer = self.ask(kind, path)
        if answer is None:
            return None
        beside = Pool(CONNECTIONS)
        for address in _found(_PARTS, answer.text, path):
            if "/static/" not in address:
                beside.spawn(self.ask, "image", address)
            elif address not in self.has:
                self.has.add(address)
                beside.spawn(self.ask, "static file", address)
        for address in _found(_FRAGMENTS, answer.text, path):
            beside.spawn(self.ask, "fragment", address, htmx=True)
        beside.join()
        return answer


class Tablet(Person):
    """Answers a step, asks for the next panel, takes the answer back, again; looks for news; after some rounds opens
    the next job, and photographs something there."""

    fixed_count = len(PEOPLE["tablets"])
    seats = PEOPLE["tablets"]
    wait_time = between(*REST_S)
    rounds_a_job = 10 if REST_S[1] < 5 else 3  # who rests comes to other jobs all the same

    def on_start(self) -> None:
        super().on_start()
        self.jobs = list(self.seat["jobs"])
        self._next_job()

    def _next_job(self) -> None:
        self.job = job = self.jobs.pop() if len(self.jobs) > 1 else self.jobs[0]
        self.run_path = f"/bench/{job['ticket']}/run/{job['run']}/"
        self.step = f"{self.run_path}{job['step']}/"
        self.version, self.rounds, self.asked_at = job.setdefault("version", 1), 0, time.monotonic()
        self.open("board", "/bench/")
        self.open("ticket", f"/bench/{job['ticket']}/")
        self.open("step", self.step)
        self._photograph()

    @task
    def tick(self) -> None:
        if self.rounds >= 2 * self.rounds_a_job:
            self._next_job()
        act = "take-back" if self.rounds % 2 else "answer"
        made = str(uuid.uuid4())
        sent = {"version": str(self.version), "client_id": made, "note": ""}
        sent |= self.job["sent"] if act == "answer" else {}
        answer = self.ask("tick", f"{self.step}{act}/", sent, htmx=True)
        if answer is None:
            return
        said = json.loads(answer.text)
        self.keep("ticked", made)
        self.version = self.job["version"] = said["version"]
        self.rounds += 1
        self.ask("next step", said["next"], htmx=True)
        if time.monotonic() - self.asked_at > NEWS_EVERY_S:
            self.asked_at = time.monotonic()
            self.ask("news", f"{self.run_path}news/", htmx=True)

    def _photograph(self) -> None:
        made, edge = str(uuid.uuid4()), uuid.uuid4().hex
        parts = [("client_id", "", made.encode()), ("photo", '; filename="stanchion.jpg"', _photo(self.chance))]
        body = b"".join(
            f'--{edge}\r\nContent-Disposition: form-data; name="{name}"{more}\r\n\r\n'.encode() + content + b"\r\n"
            for name, more, content in parts
        )
        body += f"--{edge}--\r\n".encode()
        kind = f"multipart/form-data; boundary={edge}"
        for _ in range(MOST_TRIES):
            answer = self.ask("photo", f"{self.step}photo/", htmx=True, body=body, content_type=kind, may_wait=True)
            if answer is not BUSY:
                break
            gevent.sleep(1)
        if answer is not None and answer is not BUSY:
            self.keep("photographed", made)


class Desk(Person):
    """Searches while typing, looks at the day, and books one of its units in."""

    fixed_count = len(PEOPLE["desks"])
    seats = PEOPLE["desks"]
    wait_time = between(*REST_S)

    @task
    def serve_somebody(self) -> None:
        from gevent import sleep

        typed = self.chance.choice(TYPED)
        for letters in range(2, len(typed), 2):
            self.ask("search", "/counter/search/?" + urlencode({"q": typed[:letters]}), htmx=True)
            sleep(PAUSE_TYPING_S)
        self.open("day", "/counter/")
        if self.seat["units"]:
            self._book(self.seat["units"].pop())

    def _book(self, unit: int) -> None:
        made = str(uuid.uuid4())
        self.open("booking page", f"/counter/book-in/?unit={unit}")
        sent = {
            "customer": str(self.seat["customer"]), "unit": str(unit), "bike": "none", "client_id": made,
            "ticket-promised_on": self.seat["promised_on"], "ticket-complaint_words": "It creaks under load (demo).",
        }  # fmt: skip
        if self.ask("book", "/counter/book-in/", sent) is not None:
            self.keep("booked", made)


class Stranger(User):
    """Connects and says nothing, half a request, half a body, or a byte a second, until the server closes."""

    fixed_count = STRANGERS
    wait_time = constant(0.2)
    ways = itertools.cycle(("silent", "half a request", "half a body", "drips"))

    @task
    def say_little(self) -> None:
        server = urlsplit(str(self.host))
        way = next(self.ways)
        post = f"POST /sign-in/ HTTP/1.1\r\nHost: {server.netloc}\r\nContent-Length: 1000\r\n\r\n"
        said = {"silent": "", "half a request": post[:30], "half a body": f"{post}username=", "drips": f"{post}u"}[way]
        try:
            with _connected(server.hostname or "", server.port or 0, tls=server.scheme == "https") as connection:
                connection.sendall(said.encode())
                _until_closed(connection, drips=way == "drips")
        except OSError:
            pass  # closed by the server: that is what it should do


def _connected(host: str, port: int, *, tls: bool) -> Any:
    from gevent import socket

    plain = socket.create_connection((host, port), timeout=20)
    if not tls:
        return plain
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE  # what a stranger trusts is no matter
    return context.wrap_socket(plain)


def _until_closed(connection: Any, *, drips: bool) -> None:
    connection.settimeout(1 if drips else 20)
    for _ in range(20):
        try:
            if not connection.recv(65_536):
                return
        except TimeoutError:
            if not drips:
                return
            connection.sendall(b"x")


def _found(pattern: re.Pattern[str], page: str, path: str) -> list[str]:
    """Addresses of this server that a page names, each once."""
    named = (html.unescape(next(filter(None, match.groups()))) for match in pattern.finditer(page))
    return list(dict.fromkeys(urljoin(path, one) for one in named if not urlsplit(one).scheme))


def _photo(chance: random.Random) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    red, green, blue = chance.randbytes(3)
    Image.new("RGB", (320, 240), (red, green, blue)).save(out, "JPEG")
    return out.getvalue()
