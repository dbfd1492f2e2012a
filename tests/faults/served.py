"""A shop of its own, served by the real server, and people who work in it over HTTP while things break."""

from __future__ import annotations

import datetime as dt
import html
import http.client
import io
import itertools
import json
import os
import random
import re
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import ClassVar, TypeVar
from urllib.parse import urlencode

import dj_database_url
from django.conf import settings as shop_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management.sql import emit_post_migrate_signal
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.utils import timezone
from PIL import Image

from diagnosis.models import Run, Tick
from diagnosis.runs import latest_outcomes
from tests.factories import (
    ChecklistFactory,
    RunFactory,
    ShopFactory,
    StepFactory,
    StockItemFactory,
    TicketFactory,
    TicketRunFactory,
    UserFactory,
)
from tests.known import known
from tests.running.machines import make_tables_at_once, sqlite_at
from workshop.running.databases import default_is

START_WITHIN_S = 240
TOKEN = "t" * 32
STEPS = ("look", "bleed", "pump")
FORM = "application/x-www-form-urlencoded"
RIDERS = itertools.count(500_001)  # a phone of their own, beyond those of factories: a known one is asked about


@dataclass(frozen=True)
class Place:
    """Where a shop is: its folder, and the address of its database where that is not a file in it."""

    folder: Path
    database_url: str = ""

    def content(self, name: str) -> bytes:
        """Of one of its files."""
        return (self.folder / "files" / name).read_bytes()

    @contextmanager
    def records(self) -> Iterator[BaseDatabaseWrapper]:
        """The records of that shop, for this thread."""
        there = postgresql_at(self.database_url) if self.database_url else sqlite_at(self.folder / "shop.sqlite3")
        with default_is(there) as wrapper:
            yield wrapper


def postgresql_at(address: str) -> BaseDatabaseWrapper:
    """A PostgreSQL database, set up as a shop's is, whatever the tests run on."""
    from django.db.backends.postgresql.base import DatabaseWrapper

    template = connections["default"].copy().settings_dict
    return DatabaseWrapper({**template, "OPTIONS": {}, **dj_database_url.parse(address)})


@dataclass(frozen=True)
class Staff:
    """Sessions of people who are signed in, and what they work on."""

    mechanic: str
    clerk: str
    ticket: int
    run: int
    item: int


@dataclass
class Acknowledged:
    """What the server said it had kept, and what was sent without an answer coming back."""

    ticks: set[str] = field(default_factory=set)
    bookings: dict[str, int] = field(default_factory=dict)  # words of the complaint to ticket number
    movements: set[str] = field(default_factory=set)
    photos: set[str] = field(default_factory=set)
    sent: set[str] = field(default_factory=set)
    refused: list[str] = field(default_factory=list)
    titles: set[str] = field(default_factory=set)  # of the pages that said why something could not be kept
    under_way: dict[str, Callable[[], bool]] = field(default_factory=dict)  # who to what they have no answer to

    def counts(self) -> tuple[int, int, int, int]:
        return len(self.ticks), len(self.bookings), len(self.movements), len(self.photos)

    def __str__(self) -> str:
        ticks, bookings, movements, photos = self.counts()
        return f"{ticks} ticks, {bookings} bookings, {movements} movements and {photos} photos acknowledged"


def make_shop(place: Place) -> Staff:
    """A shop with a ticket on the bench and a part in the stores."""
    place.folder.mkdir(mode=0o700, parents=True)
    with place.records() as wrapper:
        loader = MigrationLoader(wrapper)
        make_tables_at_once(loader, sorted(loader.graph.nodes))
        emit_post_migrate_signal(verbosity=0, interactive=False, db="default")
        shop = ShopFactory()
        mechanic, clerk = UserFactory(shop=shop, mechanic=True), UserFactory(shop=shop)
        checklist = ChecklistFactory()
        for position, key in enumerate(STEPS):
            StepFactory(checklist=checklist, key=key, position=position, ends_search={})
        ticket = TicketFactory(shop=shop, state="on_the_bench", mechanic=mechanic)
        run = RunFactory(checklist=checklist)
        TicketRunFactory(ticket=ticket, run=run)
        item = StockItemFactory(shop=shop)
        sessions = []
        for person in (mechanic, clerk):
            client = Client()
            client.force_login(person)
            sessions.append(client.session.session_key)
        return Staff(known(sessions[0]), known(sessions[1]), ticket.number, run.pk, item.pk)


def a_photo(colour: tuple[int, int, int] = (20, 120, 40), side_px: int = 40) -> SimpleUploadedFile:
    """As a camera sends it; noise where it is large, so that its file is large too."""
    out = io.BytesIO()
    if side_px > 500:
        Image.effect_noise((side_px, side_px), 90).convert("RGB").save(out, "JPEG", quality=95)
    else:
        Image.new("RGB", (side_px, side_px), colour).save(out, "JPEG")
    return SimpleUploadedFile("stanchion.jpg", out.getvalue(), "image/jpeg")


class Server:
    """`manage.py serve` on a free port, in a process group of its own."""

    options: tuple[str, ...] = ("--http",)
    answers_within_s = 20.0
    cookie_prefix = ""
    sends_with: ClassVar[Mapping[str, str]] = {}  # headers of every request

    def __init__(self, place: Place, **environment: str) -> None:
        self.place, self.folder = place, place.folder
        ours = {"DATA_DIR": str(place.folder), "OWN_ENVIRONMENT": "1"}
        ours |= {"DATABASE_URL": place.database_url} if place.database_url else {}
        self.environment = ours | environment
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        dropped = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE", "COVERAGE_PROCESS_START", "DJANGO_ALLOW_ASYNC_UNSAFE"}
        kept = {name: value for name, value in os.environ.items() if name not in dropped}
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "serve", *self.options, "--port", str(self.port)],
                cwd=shop_settings.BASE_DIR,
                env=kept | self.environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        give_up = time.monotonic() + START_WITHIN_S
        while not self.answers():
            assert self.process.poll() is None, (self.folder / "server.log").read_text()[-3000:]
            assert time.monotonic() < give_up, f"no answer in {START_WITHIN_S} s"
            time.sleep(0.1)

    def answers(self) -> bool:
        try:
            return self.ask("GET", "/health")[0] == 200
        except (OSError, http.client.HTTPException):
            return False

    def connection(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=self.answers_within_s)

    def kill(self) -> None:
        """SIGKILL to every process of it at once, as when the power goes."""
        if self.process is not None and self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        self.process = None

    def ask(
        self,
        method: str,
        path: str,
        session: str = "",
        sent: dict[str, str] | None = None,
        *,
        htmx: bool = False,
        photo: SimpleUploadedFile | None = None,
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and content of one request."""
        connection, named = self.connection(), self.cookie_prefix
        headers = {"Cookie": f"{named}sessionid={session}; {named}csrftoken={TOKEN}", "X-CSRFToken": TOKEN}
        headers |= self.sends_with
        headers |= {"HX-Request": "true"} if htmx else {}
        body: bytes | str | None = urlencode(sent) if sent else None
        headers |= {"Content-Type": FORM} if sent else {}
        if photo is not None:
            body = encode_multipart(BOUNDARY, {**(sent or {}), "photo": photo})
            headers["Content-Type"] = MULTIPART_CONTENT
        try:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
        finally:
            connection.close()


S = TypeVar("S", bound=Server)


class ServerBehindProxy(Server):
    """A machine behind a proxy that does TLS, as .examples/nginx.conf and group.env say."""

    options = ()
    cookie_prefix = "__Host-"
    sends_with: ClassVar[Mapping[str, str]] = {"Host": "shop.example", "Origin": "https://shop.example"}


class ProxyInFront(ServerBehindProxy):
    """What people reach instead of it: the proxy at this port, whose certificate they trust."""

    def __init__(self, machine: ServerBehindProxy, port: int, trusts: ssl.SSLContext) -> None:
        self.place, self.folder, self.environment = machine.place, machine.folder, machine.environment
        self.port, self.process, self.trusts = port, None, trusts

    def connection(self) -> http.client.HTTPConnection:
        within_s = self.answers_within_s
        return http.client.HTTPSConnection("localhost", self.port, timeout=within_s, context=self.trusts)


@contextmanager
def served(place: Place, **environment: str) -> Iterator[Server]:
    with served_as(Server, place, **environment) as server:
        yield server


@contextmanager
def served_as(kind: type[S], place: Place, **environment: str) -> Iterator[S]:
    server = kind(place, **environment)
    try:
        server.start()
        yield server
    finally:
        server.kill()


class Work:
    """A tablet, its camera, a desk and the stores, each sending its next thing as soon as the last was acknowledged.

    Args:
        patient: whether they go on after a request that got no answer; else they stop, as when the server has died.
    """

    def __init__(self, server: Server, staff: Staff, acknowledged: Acknowledged, *, patient: bool = False) -> None:
        self.server, self.staff, self.kept, self.patient = server, staff, acknowledged, patient
        self._over = threading.Event()
        jobs = (self._tablet, self._desk, self._stores, self._camera)
        self._threads = [threading.Thread(target=self._work_at, args=(job,)) for job in jobs]

    def __enter__(self) -> Work:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *problem: object) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join(timeout=60)

    def _work_at(self, job: Callable[[], Iterator[Callable[[], bool]]]) -> None:
        """What got no answer is sent again first, as a tablet does; so is what could not be kept just now."""
        if job.__name__ in self.kept.under_way and not self._send(job.__name__, self.kept.under_way[job.__name__]):
            return
        for send in job():
            if not self._send(job.__name__, send):
                return

    def _send(self, who: str, send: Callable[[], bool]) -> bool:
        """Whether to go on: it was answered for good."""
        self.kept.under_way[who] = send
        while not self._over.is_set():
            try:
                if send():
                    del self.kept.under_way[who]
                    return True
            except (OSError, http.client.HTTPException):
                if not self.patient:
                    return False  # no answer: not acknowledged
            self._over.wait(0.1)
        return False

    def _is_kept(self, act: str, answer: tuple[int, dict[str, str], bytes], kept: bool) -> bool:
        """Note what was refused, and in what words."""
        if not kept:
            self.kept.refused.append(f"{act} {answer[0]}")
            page = answer[2].decode(errors="replace")
            title = re.search(r"<h1>(.*?)</h1>", page)
            self.kept.titles.add(html.unescape(title[1]) if title else page[:80])
            if asked := re.search(r'<div class="form-errors".*?</div>', page, re.DOTALL):
                self.kept.titles.add(" ".join(html.unescape(re.sub(r"<[^>]*>", " ", asked[0])).split()))
        return kept

    def _tablet(self) -> Iterator[Callable[[], bool]]:
        """Answers steps and takes the answers back."""
        version, answered = self._where_the_run_stands()
        first = [(key, "take-back") for key in STEPS if key in answered]
        for key, act in itertools.chain(first, itertools.cycle(itertools.product(STEPS, ("answer", "take-back")))):
            sent = {"version": str(version), "client_id": str(uuid.uuid4()), "outcome": "ruled_out", "note": ""}
            yield partial(self._send_tick, key, act, sent)
            version += 1

    def _send_tick(self, key: str, act: str, sent: dict[str, str]) -> bool:
        self.kept.sent.add(sent["client_id"])
        path = f"/bench/{self.staff.ticket}/run/{self.staff.run}/{key}/{act}/"
        answer = self.server.ask("POST", path, self.staff.mechanic, sent, htmx=True)
        is_json = answer[1].get("content-type", "").startswith("application/json")
        if self._is_kept(act, answer, answer[0] == 200 and is_json and json.loads(answer[2])["saved"]):
            self.kept.ticks.add(sent["client_id"])
            return True
        return answer[0] != 503

    def _where_the_run_stands(self) -> tuple[int, set[str]]:
        with self.server.place.records():
            run = Run.objects.get(pk=self.staff.run)
            ticks = list(Tick.objects.filter(run=run).select_related("step").order_by("pk"))
            return run.version, set(latest_outcomes(ticks))

    def _desk(self) -> Iterator[Callable[[], bool]]:
        promised = (timezone.localdate() + dt.timedelta(days=3)).isoformat()
        while True:
            name = uuid.uuid4().hex
            sent = {
                "client_id": str(uuid.uuid4()),
                "customer-name": f"Rider {name}", "customer-phone": f"0555 {next(RIDERS):06d}",
                "unit-described_as": "Kestrigan Plume", "unit-kind": "fork", "unit-serial": name[:12],
                "unit-travel_m": "130", "ticket-complaint_words": f"Sits low {name}", "ticket-promised_on": promised,
                "arrival-rebound_clicks": "7", "mark0-place": "Left stanchion", "mark0-text": "Scratch",
            }  # fmt: skip

            def send(sent: dict[str, str] = sent) -> bool:
                words = sent["ticket-complaint_words"]
                self.kept.sent.add(words)
                answer = self.server.ask("POST", "/counter/book-in/", self.staff.clerk, sent)
                if self._is_kept("book in", answer, answer[0] == 302):
                    self.kept.bookings[words] = int(answer[1]["location"].rstrip("/").rpartition("/")[2])
                return answer[0] != 503

            yield send

    def _stores(self) -> Iterator[Callable[[], bool]]:
        """A delivery has no id of its own, so nobody sends it again without looking first."""
        while True:
            note = uuid.uuid4().hex
            sent = {"quantity": str(random.randint(1, 9)), "note": note}

            def send(sent: dict[str, str] = sent) -> bool:
                if sent["note"] in self.kept.sent:
                    return True
                self.kept.sent.add(sent["note"])
                answer = self.server.ask("POST", f"/stores/{self.staff.item}/receive/", self.staff.clerk, sent)
                if self._is_kept("receive", answer, answer[0] == 302):
                    self.kept.movements.add(sent["note"])
                return True

            yield send

    def _camera(self) -> Iterator[Callable[[], bool]]:
        while True:
            client_id, (red, green, blue) = str(uuid.uuid4()), random.randbytes(3)
            colour = (red, green, blue)
            path = f"/bench/{self.staff.ticket}/run/{self.staff.run}/{random.choice(STEPS)}/photo/"

            def send(client_id: str = client_id, colour: tuple[int, int, int] = colour, path: str = path) -> bool:
                self.kept.sent.add(client_id)
                photo, sent = a_photo(colour), {"client_id": client_id}
                answer = self.server.ask("POST", path, self.staff.mechanic, sent, htmx=True, photo=photo)
                if self._is_kept("photo", answer, answer[0] == 200):
                    self.kept.photos.add(client_id)
                return answer[0] != 503

            yield send
            time.sleep(0.5)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
