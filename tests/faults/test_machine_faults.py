"""What the machine under the shop can do to it: each fault is said in words, the rest goes on, and nothing is lost."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains

from diagnosis.models import Run, Tick
from tests.factories import RunFactory, StepFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.faults.served import Place, a_photo, make_shop
from tests.known import known
from workshop.documents import rendering
from workshop.models import Document, Photo, Ticket, User

ON_SQLITE = "sqlite" in os.environ.get("DATABASE_URL", "sqlite")


@dataclass
class Bench:
    """A mechanic with a run of two steps, over HTTP."""

    client: Client
    ticket: Ticket
    run: Run

    def answer(self, key: str) -> Any:
        version = Run.objects.get(pk=self.run.pk).version
        sent = {"version": version, "client_id": str(uuid.uuid4()), "outcome": "ruled_out", "note": ""}
        return self.client.post(reverse("bench:answer", args=[self.ticket.number, self.run.pk, key]), sent)

    def open_ticket(self) -> Any:
        return self.client.get(reverse("bench:ticket", args=[self.ticket.number]))


def bench_of(ticket: Ticket, mechanic: User, run: Run) -> Bench:
    client = Client(raise_request_exception=False)
    client.force_login(mechanic)
    return Bench(client, ticket, run)


@pytest.fixture
def bench(db: None) -> Bench:
    mechanic = UserFactory(mechanic=True)
    ticket = TicketFactory(shop=mechanic.shop, state="on_the_bench", mechanic=mechanic)
    run = RunFactory()
    for position, key in enumerate(("look", "bleed", "pump")):
        StepFactory(checklist=run.checklist, key=key, position=position, ends_search={})
    TicketRunFactory(ticket=ticket, run=run)
    return bench_of(ticket, mechanic, run)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 16 MB of its own; only root can mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", str(folder)]
    if not shutil.which("mount") or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("mounting a small disk takes root")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def fill(folder: Path) -> Path:
    """Take what room is left, to the last byte."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as out:
        for size in (1 << 20, 1 << 12, 1):
            try:
                while True:
                    out.write(b"\0" * size)
            except OSError:
                continue
    return filler


@pytest.mark.django_db
def test_a_full_disk_refuses_the_tick_in_words_and_keeps_what_is_there(
    small_disk: Path, settings: Any, tmp_path: Path
) -> None:
    place = Place(small_disk / "shop")
    staff = make_shop(place)
    with place.records():
        settings.MEDIA_ROOT = place.folder / "files"
        ticket, run = Ticket.objects.get(number=staff.ticket), Run.objects.get(pk=staff.run)
        assert ticket.mechanic is not None
        bench = bench_of(ticket, ticket.mechanic, run)
        assert bench.answer("look").status_code == 302
        filler = fill(small_disk)
        refused = _until_refused(bench)
        assertContains(refused, "The disk is full", status_code=503)
        assertContains(refused, "Nothing of this was saved", status_code=503)
        kept = Tick.objects.count()
        assert bench.open_ticket().status_code == 200
        photo = {"photo": a_photo(), "client_id": str(uuid.uuid4())}
        address = reverse("bench:photo", args=[ticket.number, run.pk, "look"])
        assertContains(bench.client.post(address, photo), "The disk is full", status_code=503)
        assert not Photo.objects.exists()

        filler.unlink()
        assert Tick.objects.count() == kept
        assert bench.client.post(address, {**photo, "photo": a_photo()}).status_code == 302
        assert Photo.objects.count() == 1
        with connections["default"].cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            assert cursor.fetchone() == ("ok",)


def _until_refused(bench: Bench) -> Any:
    """The journal has room for a few writes yet; then the disk has none."""
    for _ in range(400):
        response = bench.client.post(
            reverse("stores:receive", args=[bench.ticket.shop.stock_items.get().pk]),
            {"quantity": "1", "note": "x" * 100},
        )
        if response.status_code != 302:
            return response
    raise AssertionError("the disk never filled up")


@pytest.mark.skipif(not ON_SQLITE, reason="a file that cannot be written is SQLite's")
@pytest.mark.django_db(transaction=True)
def test_a_database_that_cannot_be_written_still_reads(bench: Bench) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only=ON")  # SQLite then gives the error of a read-only file, also to root
    try:
        assertContains(bench.answer("look"), "Nothing can be saved just now", status_code=503)
        assert bench.open_ticket().status_code == 200
    finally:
        connection.close()
    assert bench.answer("look").status_code == 302


@pytest.fixture
def broken_store(settings: Any, tmp_path: Path) -> Callable[[], None]:
    """The folder of photos is none, until what is returned is called."""
    root = tmp_path / "files"
    settings.MEDIA_ROOT = root
    root.write_text("a file where the folder should be")

    def mend() -> None:
        root.unlink()

    return mend


def test_a_broken_photo_store_stops_photos_and_nothing_else(bench: Bench, broken_store: Callable[[], None]) -> None:
    address = reverse("bench:photo", args=[bench.ticket.number, bench.run.pk, "look"])
    photo = {"client_id": str(uuid.uuid4())}
    refused = bench.client.post(address, {**photo, "photo": a_photo()})
    assertContains(refused, "Photos and documents cannot be stored", status_code=503)
    assert not Photo.objects.exists()
    assert bench.answer("look").status_code == 302
    assert bench.open_ticket().status_code == 200
    broken_store()
    assert bench.client.post(address, {**photo, "photo": a_photo()}).status_code == 302
    assert Photo.objects.count() == 1


def test_a_photo_that_is_gone_leaves_its_page_standing(bench: Bench) -> None:
    address = reverse("bench:photo", args=[bench.ticket.number, bench.run.pk, "look"])
    bench.client.post(address, {"photo": a_photo(), "client_id": str(uuid.uuid4())})
    photo = Photo.objects.get()
    photo.file.storage.delete(known(photo.file.name))
    assert bench.open_ticket().status_code == 200
    assert bench.client.get(reverse("counter:photo", args=[photo.pk])).status_code == 404


def test_a_document_that_cannot_be_stored_is_not_issued(
    bench: Bench, broken_store: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: b"%PDF-1.7")
    response = bench.client.post(reverse("documents:issue", args=[bench.ticket.number, "label"]))
    assertContains(response, "Photos and documents cannot be stored", status_code=503)
    assert not Document.objects.exists()


@pytest.fixture
def _forget_weasyprint() -> Iterator[None]:
    for kept in (rendering._weasyprint, rendering._styles, rendering._own_files_only):
        kept.cache_clear()
    yield
    for kept in (rendering._weasyprint, rendering._styles, rendering._own_files_only):
        kept.cache_clear()


@pytest.mark.usefixtures("_forget_weasyprint")
def test_without_weasyprint_everything_but_pdfs_works(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)  # importing it then fails
    response = bench.client.post(reverse("documents:issue", args=[bench.ticket.number, "label"]), follow=True)
    assertContains(response, "PDFs need system libraries that are not here")
    assert not Document.objects.exists()
    assert bench.answer("look").status_code == 302


def test_a_pdf_that_will_not_lay_out_says_so_and_stops_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(html: str, paper_style: str) -> bytes:
        raise IndexError("in a table of a font")

    monkeypatch.setattr(rendering, "_laid_out", fails)
    response = bench.client.post(reverse("documents:issue", args=[bench.ticket.number, "label"]), follow=True)
    assertContains(response, "The PDF could not be made, and nothing of it was kept")
    assert not Document.objects.exists()
    assert bench.answer("look").status_code == 302


@pytest.mark.skipif(ON_SQLITE, reason="PostgreSQL only")
@pytest.mark.django_db(transaction=True)
def test_a_connection_that_postgresql_ends_is_said_and_made_anew(bench: Bench) -> None:
    """What a restart of PostgreSQL does to a request that is under way: its backend is told to go."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        backend = cursor.fetchone()[0]
    other = connections["default"].copy()
    try:
        with other.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s)", [backend])
    finally:
        other.close()
    assertContains(bench.client.get(reverse("bench:board")), "The database does not answer", status_code=503)
    connection.close_if_unusable_or_obsolete()  # what Django does between the requests of a server
    assert bench.answer("look").status_code == 302
    assert Tick.objects.count() == 1


def test_a_clock_set_back_loses_no_answer_and_keeps_their_order(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    real = timezone.now
    assert bench.answer("look").status_code == 302
    monkeypatch.setattr(timezone, "now", lambda: real() - dt.timedelta(hours=3))
    assert bench.answer("bleed").status_code == 302
    taken_back = {"version": 3, "client_id": str(uuid.uuid4())}
    address = reverse("bench:take_back", args=[bench.ticket.number, bench.run.pk, "bleed"])
    assert bench.client.post(address, taken_back).status_code == 302
    assert bench.answer("pump").status_code == 302
    outcomes = list(Tick.objects.order_by("pk").values_list("step__key", "outcome"))
    assert outcomes == [("look", "ruled_out"), ("bleed", "ruled_out"), ("bleed", "taken_back"), ("pump", "ruled_out")]
    assert bench.open_ticket().status_code == 200
    assert bench.client.get(reverse("bench:times", args=[bench.ticket.number])).status_code == 200
    assert bench.client.get(reverse("bench:board")).status_code == 200
