"""A database that is another shop's, damaged, or half migrated: said before anything is done with it, and undone."""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.urls import reverse

from tests.factories import ShopFactory, UserFactory
from tests.faults.served import Place, make_shop, served
from tests.faults.table import Tell
from tests.running.machines import empty_machine, make_tables_at_once
from workshop.models import Shop, Ticket
from workshop.running import loading
from workshop.running.backup import make_backup
from workshop.running.lives_here import note_shop
from workshop.running.page_check import look_into_file
from workshop.running.preflight.findings import Exit
from workshop.running.whole_check import DAMAGED
from workshop.web.faults import DAMAGED as DAMAGED_PAGE

pytestmark = pytest.mark.django_db(transaction=True)
sqlite_only = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a file of pages is SQLite's")


@pytest.fixture
def machine(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A machine with a shop that lives there."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    settings.STATIC_ROOT = tmp_path / "static"
    settings.STATIC_ROOT.mkdir()  # WhiteNoise looks for it
    with empty_machine(settings, tmp_path / "machine") as folder:
        _fill(connections["default"])
        note_shop()
        yield folder


def _fill(wrapper: Any) -> None:
    from django.db.migrations.loader import MigrationLoader

    loader = MigrationLoader(wrapper)
    make_tables_at_once(loader, sorted(loader.graph.nodes))
    _put_back_what_migrations_do()
    ShopFactory(name="Mill Yard")


def _put_back_what_migrations_do() -> None:
    from workshop.kept import installing as kept
    from workshop.searching import installing

    kept.rebuild()
    installing.rebuild()


def refused(command: str, *options: str) -> tuple[str, int]:
    with pytest.raises(CommandError) as raised:
        call_command(command, *options)
    return str(raised.value), raised.value.returncode


def flip(database: Path, page: int, page_bytes: int) -> None:
    """Every bit of the first half of a page, as a disk that mixes up its sectors."""
    with database.open("r+b") as file:
        file.seek((page - 1) * page_bytes)
        before = file.read(page_bytes // 2)
        file.seek((page - 1) * page_bytes)
        file.write(bytes(byte ^ 0xFF for byte in before))


def first_pages_of(database: Path, table: str) -> tuple[list[int], int]:
    """The root pages of a table and its indexes, and how large pages are."""
    with closing(sqlite3.connect(database)) as plain:
        plain.execute("PRAGMA journal_mode=DELETE")
        (size,) = plain.execute("PRAGMA page_size").fetchone()
        found = plain.execute("SELECT rootpage FROM sqlite_master WHERE tbl_name = ? AND rootpage > 0", [table])
        return [page for (page,) in found.fetchall()], size


def damage(database: Path, table: str) -> None:
    pages, size = first_pages_of(database, table)
    assert pages
    for page in pages:
        flip(database, page, size)


def test_a_database_of_another_shop_is_not_taken_for_the_one_that_lives_here(machine: Path, told: Tell) -> None:
    row = MigrationRecorder(connections["default"]).migration_qs.order_by("pk")[:1].get()
    row.applied = row.applied.replace(year=2019)  # what tells a database from any other
    row.save()
    Shop.objects.update(name="Harbour Forks")
    for command, options in (("serve", ["--http", "--port", "0"]), ("upgrade", []), ("backup", []), ("check_shop", [])):
        with pytest.raises(CommandError) as raised:
            call_command(command, *options)
        assert raised.value.returncode == Exit.NOT_BEGUN, command
    said, _ = refused("upgrade")
    assert "“Mill Yard” lives in this folder" in said
    assert "is another database, with “Harbour Forks” in it" in said
    assert "restore --replace" in said
    assert "check_shop --accept" in said
    assert not list(machine.glob("backups/*"))
    call_command("check_shop", "--accept", "--quick")
    call_command("check_shop", "--quick")
    told("database replaced by another shop's", injected=4, words=said)


def test_a_restore_notes_its_new_tables_as_the_shops(machine: Path, tmp_path: Path) -> None:
    made = make_backup(folder=tmp_path / "kept")
    call_command("restore", made.path, "--replace", "--without-backup")
    call_command("check_shop", "--quick")


def test_a_gap_between_migrations_and_a_half_made_one_stop_every_start(machine: Path, told: Tell) -> None:
    recorder = MigrationRecorder(connections["default"])
    recorder.record_unapplied("workshop", "0019_words_know_their_shop")
    said, code = refused("serve", "--http", "--port", "0")
    assert "A migration is missing in it" in said
    assert "0019_words_know_their_shop" in said
    assert code == Exit.NOT_BEGUN
    told("a migration missing between others", words=said)

    recorder.record_applied("workshop", "0019_words_know_their_shop")
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE workshop_bike RENAME TO bike_half")
    said, code = refused("upgrade")
    assert "lacks the table workshop_bike" in said
    assert "restore --replace" in said
    assert code == Exit.NOT_BEGUN
    told("a migration made half", words=said)
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE bike_half RENAME TO workshop_bike")
        cursor.execute("ALTER TABLE workshop_bike RENAME COLUMN search_text TO search_words")
    said, _ = refused("upgrade")
    assert "workshop_bike.search_text" in said


@sqlite_only
def test_flipped_pages_are_found_wherever_they_are(tmp_path: Path, told: Tell) -> None:
    place = Place(tmp_path / "shop")
    make_shop(place)
    whole = place.folder / "shop.sqlite3"
    _, size = first_pages_of(whole, "workshop_ticket")
    with closing(sqlite3.connect(whole)) as plain:
        plain.execute("VACUUM")  # a page that holds nothing may be flipped unseen
    assert look_into_file(whole).damage == ()
    count = whole.stat().st_size // size
    some = random.Random(7).sample(range(1, count + 1), 24)
    found = 0
    for page in some:
        damaged = tmp_path / "damaged.sqlite3"
        shutil.copyfile(whole, damaged)
        flip(damaged, page, size)
        found += bool(look_into_file(damaged).damage)
    assert found == len(some)
    told("a page of the database flipped", injected=len(some), words=f"{found} of {len(some)} found by quick_check")


@sqlite_only
def test_damage_is_told_at_the_start_and_on_the_owners_pages_and_nothing_is_migrated(
    machine: Path, capsys: pytest.CaptureFixture[str], told: Tell
) -> None:
    owner = Client(raise_request_exception=False)
    owner.force_login(UserFactory(shop=Shop.objects.get(), owner=True))
    database = machine / "shop.sqlite3"
    connections["default"].close()
    damage(database, "workshop_stocktake")
    said, code = refused("upgrade")
    assert DAMAGED in said
    assert "backup --to RESCUE.zip" in said
    assert code == Exit.NOT_BEGUN
    assert not list(machine.glob("backups/*"))
    said, code = refused("check_shop", "--quick")
    assert (code, said) == (Exit.SEE_TO_IT, "1 thing needs attention.")
    assert DAMAGED in capsys.readouterr().out
    assert refused("check_shop")[1] == Exit.SEE_TO_IT
    assert DAMAGED in owner.get(reverse("office:system")).content.decode()
    overview = owner.get(reverse("office:overview")).content.decode()
    assert "Pages of it are damaged" in overview
    page = owner.get(reverse("stores:stock_takes"))
    assert page.status_code == 503
    assert DAMAGED_PAGE[0] in page.content.decode().replace("&#x27;", "'")
    assert not Ticket.objects.exists()  # the rest is read all the same
    told("a damaged page met by a start", words=DAMAGED_PAGE[0])


@sqlite_only
def test_a_damaged_shop_is_served_and_the_terminal_says_so(tmp_path: Path, told: Tell) -> None:
    place = Place(tmp_path / "shop")
    staff = make_shop(place)
    database = place.folder / "shop.sqlite3"
    damage(database, "workshop_stocktake")
    with served(place) as server:
        assert server.ask("GET", f"/bench/{staff.ticket}/", staff.mechanic)[0] == 200
        log = (place.folder / "server.log").read_text()
    assert DAMAGED in log
    assert "Traceback" not in log
    told("a damaged database served", words=next(line for line in log.splitlines() if DAMAGED in line))


def test_what_is_looked_at_once_a_week_finds_what_no_page_shows(
    machine: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("check_shop")
    assert "Nothing wants seeing to" in capsys.readouterr().out
    with connection.cursor() as cursor:
        cursor.execute(
            "DROP TRIGGER kept_entered" if connection.vendor == "sqlite" else "DROP FUNCTION kept_entered() CASCADE"
        )
    from tests.factories import CustomerFactory

    CustomerFactory(shop=Shop.objects.get())
    assert refused("check_shop")[1] == Exit.SEE_TO_IT
    assert "last visits are not the latest" in capsys.readouterr().out
