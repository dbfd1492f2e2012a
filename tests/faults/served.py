"""A shop in a folder of its own, served by the real server, and people who work in it over HTTP until it dies."""

from __future__ import annotations

import datetime as dt
import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from django.conf import settings as shop_settings
from django.core.management.sql import emit_post_migrate_signal
from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.test import Client
from django.utils import timezone

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
from tests.running.machines import make_tables_at_once, sqlite_at
from workshop.running.databases import default_is

START_WITHIN_S = 240
TOKEN = "t" * 32
STEPS = ("look", "bleed", "pump")


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
    sent: set[str] = field(default_factory=set)
    refused: list[str] = field(default_factory=list)
    unanswered: tuple[str, str, dict[str, str]] | None = None  # the tick that was under way

    def unanswered_again(self, send: Callable[[str, str, dict[str, str]], None]) -> Callable[[], None]:
        assert self.unanswered is not None
        key, act, sent = self.unanswered
        return lambda: send(key, act, sent)


@contextmanager
def database_of(folder: Path) -> Iterator[None]:
    """The records of that shop, for this thread."""
    with default_is(sqlite_at(folder / "shop.sqlite3")):
        yield


def make_shop(folder: Path) -> Staff:
    """A shop with a ticket on the bench and a part in the stores."""
    folder.mkdir(mode=0o700, parents=True)
    with database_of(folder):
        wrapper = connections["default"]
        make_tables_at_once(wrapper, sorted(MigrationLoader(wrapper).graph.nodes))
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
        return Staff(sessions[0], sessions[1], ticket.number, run.pk, item.pk)


class Server:
    """`manage.py serve` on a free port, in a process group of its own."""

    def __init__(self, folder: Path, **environment: str) -> None:
        self.folder, self.environment = folder, environment
        self.port = _free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        dropped = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE", "COVERAGE_PROCESS_START"}
        kept = {name: value for name, value in os.environ.items() if name not in dropped}
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "serve", "--http", "--port", str(self.port)],
                cwd=shop_settings.BASE_DIR,
                env=kept | {"DATA_DIR": str(self.folder), "OWN_ENVIRONMENT": "1"} | self.environment,
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

    def kill(self) -> None:
        """SIGKILL to every process of it at once, as when the power goes."""
        if self.process is not None and self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        self.process = None

    def ask(
        self, method: str, path: str, session: str = "", sent: dict[str, str] | None = None, htmx: bool = False
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and content of one request."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        headers = {"Cookie": f"sessionid={session}; csrftoken={TOKEN}", "X-CSRFToken": TOKEN}
        headers |= {"Content-Type": "application/x-www-form-urlencoded"} if sent else {}
        headers |= {"HX-Request": "true"} if htmx else {}
        try:
            connection.request(method, path, urlencode(sent) if sent else None, headers)
            answer = connection.getresponse()
            return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
        finally:
            connection.close()


@contextmanager
def served(folder: Path, **environment: str) -> Iterator[Server]:
    server = Server(folder, **environment)
    try:
        server.start()
        yield server
    finally:
        server.kill()


class Work:
    """A tablet, a desk and the stores, each sending its next thing as soon as the last was acknowledged."""

    def __init__(self, server: Server, staff: Staff, acknowledged: Acknowledged) -> None:
        self.server, self.staff, self.kept = server, staff, acknowledged
        self._over = threading.Event()
        jobs = (self._tablet, self._desk, self._stores)
        self._threads = [threading.Thread(target=self._until_it_dies, args=(job(),)) for job in jobs]

    def __enter__(self) -> Work:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *problem: object) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join(timeout=60)

    def _until_it_dies(self, job: Iterator[Callable[[], None]]) -> None:
        for send in job:
            if self._over.is_set():
                return
            try:
                send()
            except (OSError, http.client.HTTPException):
                return  # no answer: not acknowledged

    def _tablet(self) -> Iterator[Callable[[], None]]:
        """Answers steps and takes the answers back; what got no answer is sent again first, as a tablet does."""
        if self.kept.unanswered:
            yield self.kept.unanswered_again(self._send_tick)
        while True:
            version, answered = self._where_the_run_stands()
            todo = [(key, "take-back") for key in STEPS if key in answered]
            todo += [(key, act) for key in STEPS for act in ("answer", "take-back")]
            for key, act in todo:
                sent = {"version": str(version), "client_id": str(uuid.uuid4()), "outcome": "ruled_out", "note": ""}
                yield lambda key=key, act=act, sent=sent: self._send_tick(key, act, sent)
                version += 1

    def _send_tick(self, key: str, act: str, sent: dict[str, str]) -> None:
        self.kept.sent.add(sent["client_id"])
        self.kept.unanswered = (key, act, sent)
        path = f"/bench/{self.staff.ticket}/run/{self.staff.run}/{key}/{act}/"
        status, _, content = self.server.ask("POST", path, self.staff.mechanic, sent, htmx=True)
        self.kept.unanswered = None
        if status == 200 and json.loads(content)["saved"]:
            self.kept.ticks.add(sent["client_id"])
        else:
            self.kept.refused.append(f"{act} {status}")

    def _where_the_run_stands(self) -> tuple[int, set[str]]:
        with database_of(self.server.folder):
            run = Run.objects.get(pk=self.staff.run)
            return run.version, set(latest_outcomes(Tick.objects.filter(run=run).select_related("step").order_by("pk")))

    def _desk(self) -> Iterator[Callable[[], None]]:
        promised = (timezone.localdate() + dt.timedelta(days=3)).isoformat()
        while True:
            name = uuid.uuid4().hex
            sent = {
                "client_id": str(uuid.uuid4()), "customer-name": f"Rider {name}", "customer-phone": "0555 010 447",
                "unit-described_as": "Kestrigan Plume", "unit-kind": "fork", "unit-serial": name[:12],
                "unit-travel_m": "130", "ticket-complaint_words": f"Sits low {name}", "ticket-promised_on": promised,
                "arrival-rebound_clicks": "7", "mark0-place": "Left stanchion", "mark0-text": "Scratch",
            }  # fmt: skip

            def send(sent: dict[str, str] = sent) -> None:
                words = sent["ticket-complaint_words"]
                self.kept.sent.add(words)
                status, headers, _ = self.server.ask("POST", "/counter/book-in/", self.staff.clerk, sent)
                if status == 302:
                    self.kept.bookings[words] = int(headers["location"].rstrip("/").rpartition("/")[2])
                else:
                    self.kept.refused.append(f"book in {status}")

            yield send

    def _stores(self) -> Iterator[Callable[[], None]]:
        while True:
            note = uuid.uuid4().hex

            def send(note: str = note) -> None:
                self.kept.sent.add(note)
                sent = {"quantity": str(random.randint(1, 9)), "note": note}
                status, _, _ = self.server.ask("POST", f"/stores/{self.staff.item}/receive/", self.staff.clerk, sent)
                if status == 302:
                    self.kept.movements.add(note)
                else:
                    self.kept.refused.append(f"receive {status}")

            yield send


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
