"""A database that was lost is not taken for an empty shop, and one that went away takes no more writes."""

from __future__ import annotations

import json
import os
import socket
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

from tests.factories import ShopFactory, UserFactory
from tests.faults.served import Place, make_shop, served
from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from workshop.models import Shop, Ticket
from workshop.running import loading
from workshop.running.backup import make_backup
from workshop.staff import append_only

COMMANDS = {
    "let_in": ["owner"],
    "open_shop": ["--name=Mill Yard", "--owner=ines"],
    "send_reminders": [],
    "rebuild_search": [],
    "check_sums": [],
    "backup": [],
}
BEGINNERS = {"upgrade": [], "serve": ["--http"], "demo": ["--make-only"], "big_shop": []}


@pytest.fixture
def here(transactional_db: None, data_dir: Path) -> None:
    """A database of the tests', whatever follows is apart from."""


def no_database_was_made(folder: Path) -> bool:
    return not (folder / "shop.sqlite3").exists()


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_says_that_there_is_no_shop_and_makes_none(
    here: None, settings: Any, tmp_path: Path, command: str
) -> None:
    with empty_machine(settings, tmp_path / "bare") as folder:
        for _ in range(2):
            with pytest.raises(CommandError, match=r"There is no shop in .*Look at DATA_DIR and DATABASE_URL"):
                call_command(command, *COMMANDS[command])
            assert no_database_was_made(folder)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_folder_that_is_not_there_is_not_made(here: None, settings: Any, tmp_path: Path, command: str) -> None:
    with empty_machine(settings, tmp_path / "misspelt", kind="sqlite") as folder:
        folder.rmdir()
        with pytest.raises(CommandError, match="There is no shop in"):
            call_command(command, *COMMANDS[command])
        assert not folder.exists()


@pytest.mark.parametrize("command", ["let_in", "check_sums", "open_shop", "send_reminders", "serve", "upgrade"])
def test_a_file_that_is_no_database_is_said(here: None, settings: Any, tmp_path: Path, command: str) -> None:
    with empty_machine(settings, tmp_path / "odd", kind="sqlite") as folder:
        (folder / "shop.sqlite3").write_bytes(b"notes on how to run the shop\n" * 200)
        with pytest.raises(CommandError, match="does not answer"):
            call_command(command, *{**COMMANDS, **BEGINNERS}[command], **port_of(command))


@pytest.fixture
def machine(shop: Ticket, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The shop on a machine of its own, brought there by the restore."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    made = make_backup(folder=tmp_path / "moving")
    with empty_machine(settings, tmp_path / "machine") as folder:
        call_command("restore", made.path)
        yield folder


def lose_the_database(folder: Path) -> None:
    """As a hand does it: the file only, not its journal. On PostgreSQL, all its tables."""
    if connection.vendor == "sqlite":
        connections["default"].close()
        os.replace(folder / "shop.sqlite3", folder / "elsewhere.sqlite3")
    else:
        loading.drop_tables(connections["default"])


def port_of(command: str) -> dict[str, Any]:
    if command not in {"serve", "demo"}:
        return {}
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return {"port": probe.getsockname()[1]}


@pytest.mark.parametrize("command", [*BEGINNERS, "open_shop"])
def test_nothing_begins_an_empty_shop_where_one_lives(machine: Path, command: str) -> None:
    known = json.loads((machine / "lives_here.json").read_text())
    assert known["shops"] == [Shop.objects.get().name]
    lose_the_database(machine)
    for _ in range(2):
        with pytest.raises(CommandError, match=r"lives in this folder.*No empty shop is made.*restore --replace"):
            call_command(command, *{**COMMANDS, **BEGINNERS}[command], **port_of(command))
    if connection.vendor == "sqlite":
        assert no_database_was_made(machine)


def test_nor_where_its_tables_are_there_and_empty(machine: Path) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA foreign_keys=OFF")
            cursor.execute("DELETE FROM workshop_shop")
        else:
            append_only.remove()  # as whoever empties a database past the app has to
            cursor.execute("TRUNCATE workshop_shop CASCADE")
    with pytest.raises(CommandError, match=r"has no shop in it|missing or empty now"):
        call_command("serve", "--http", **port_of("serve"))


def test_nor_where_photos_are(here: None, settings: Any, tmp_path: Path) -> None:
    with empty_machine(settings, tmp_path / "photos") as folder:
        (folder / "files").mkdir()
        (folder / "files" / "photo.jpg").touch()
        with pytest.raises(CommandError, match="Photos and documents of a shop are in"):
            call_command("serve", "--http", **port_of("serve"))
        assert no_database_was_made(folder)


def test_nor_over_a_journal_which_stays_as_it_is(here: None, settings: Any, tmp_path: Path) -> None:
    with empty_machine(settings, tmp_path / "journal", kind="sqlite") as folder:
        away, place = folder / "elsewhere.sqlite3", folder / "shop.sqlite3"
        writer = sqlite3.connect(place)
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("CREATE TABLE kept (words TEXT)")
        writer.execute("INSERT INTO kept VALUES ('acknowledged')")
        writer.commit()
        os.replace(place, away)
        journal = folder / "shop.sqlite3-wal"
        before = journal.read_bytes()
        assert before
        for command in BEGINNERS:
            with pytest.raises(CommandError, match=r"The journal .*shop\.sqlite3-wal is there"):
                call_command(command, *BEGINNERS[command], **port_of(command))
        assert journal.read_bytes() == before
        assert not place.exists()
        os.replace(away, place)  # and put back, all of it is there
        writer.close()
        with closing(sqlite3.connect(place)) as back:
            assert back.execute("SELECT words FROM kept").fetchone() == ("acknowledged",)


def test_a_shop_put_back_is_served_again_and_a_restore_brings_one(machine: Path, tmp_path: Path) -> None:
    made = make_backup(folder=tmp_path / "kept")
    lose_the_database(machine)
    restore_backup(made.path, replace=True)
    call_command("check_sums")
    assert Shop.objects.count() == 1


@pytest.mark.parametrize("command", [*BEGINNERS, "let_in", "open_shop", "send_reminders"])
def test_older_code_refuses_a_newer_database(machine: Path, command: str) -> None:
    MigrationRecorder(connections["default"]).record_applied("workshop", "9001_what_comes_later")
    with pytest.raises(CommandError, match=r"newer version.*workshop 9001_what_comes_later.*not known here"):
        call_command(command, *{**COMMANDS, **BEGINNERS}[command], **port_of(command))


def test_a_database_that_is_behind_is_told_from_one_that_is_not_there(machine: Path) -> None:
    recorder = MigrationRecorder(connections["default"])
    recorder.record_unapplied("workshop", "0019_words_know_their_shop")
    with pytest.raises(CommandError, match=r"1 migration behind.*manage\.py upgrade"):
        call_command("let_in", "owner")


def test_nobody_of_that_name(machine: Path) -> None:
    with pytest.raises(CommandError, match="Nobody signs in as “nobody”"):
        call_command("let_in", "nobody")


@pytest.mark.skipif("postgres" in os.environ.get("DATABASE_URL", ""), reason="a file that moves is SQLite's")
def test_no_write_into_a_file_that_went_away_is_acknowledged(tmp_path: Path, db: None) -> None:
    place = Place(tmp_path / "shop")
    staff = make_shop(place)
    main, away = tmp_path / "shop" / "shop.sqlite3", tmp_path / "moved.sqlite3"
    with served(place) as server:

        def delivery(note: str) -> int:
            sent = {"quantity": "3", "note": note}
            return server.ask("POST", f"/stores/{staff.item}/receive/", staff.clerk, sent)[0]

        assert delivery("before") == 302
        for _ in range(2):  # away and back, twice
            os.replace(main, away)
            status, headers, content = server.ask("POST", f"/stores/{staff.item}/receive/", staff.clerk, {"note": "x"})
            assert (status, headers["retry-after"]) == (503, "10")
            assert "not there" in content.decode()
            assert server.ask("GET", "/stores/", staff.clerk)[0] == 503
            assert server.ask("GET", "/health")[::2] == (503, b"not ready\n")
            assert not main.exists()  # asking made no new one
            os.replace(away, main)
            assert server.ask("GET", "/health")[0] == 200
            assert delivery("after") == 302
        os.replace(main, away)
        main.write_bytes(away.read_bytes())  # another file under its name
        assert server.ask("GET", "/health")[0] == 503
        assert delivery("into a copy") == 503
        server.kill()
        main.unlink()
        with pytest.raises(AssertionError, match=r"lives in this folder|The journal"):
            server.start()
        assert not main.exists()


@pytest.mark.skipif("postgres" in os.environ.get("DATABASE_URL", ""), reason="a file that moves is SQLite's")
def test_a_file_that_goes_while_a_request_is_under_way(
    client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, transactional_db: None
) -> None:
    client.force_login(UserFactory.create(shop=ShopFactory.create(), owner=True))
    said = iter([False, True])
    monkeypatch.setattr("workshop.running.database_there.file_went_away", lambda: next(said))
    answer = client.post("/stores/", {})
    assert answer.status_code == 503
    assert "nobody can say whether this was saved" in answer.content.decode()


@pytest.mark.skipif("postgres" in os.environ.get("DATABASE_URL", ""), reason="a journal beside it is SQLite's")
def test_a_journal_removed_beneath_a_connection(transactional_db: None, settings: Any, tmp_path: Path) -> None:
    from workshop.running.opened_file import file_went_away

    with empty_machine(settings, tmp_path / "journal") as folder:
        with connection.cursor() as cursor:
            cursor.execute("CREATE TABLE kept (words TEXT)")
        assert not file_went_away()
        os.replace(folder / "shop.sqlite3-wal", folder / "cleaned-up")
        assert file_went_away()
        os.replace(folder / "cleaned-up", folder / "shop.sqlite3-wal")
        assert not file_went_away()
