"""Whoever restores or upgrades has the shop alone among all machines of its PostgreSQL, and serving ones are seen."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from pytest_django.asserts import assertContains

from workshop.models import Ticket
from workshop.running import in_use, seen_serving
from workshop.running.backup import make_backup
from workshop.running.in_use import CannotBeSeen, ShopInUse, beside_others, shop_to_oneself
from workshop.running.preflight.findings import Exit
from workshop.running.seen_serving import SERVED_ON, SeenServing

among_machines = pytest.mark.skipif(connection.vendor != "postgresql", reason="several machines have PostgreSQL")
WITHIN_S = 60


def until(came: Callable[[], object]) -> None:
    end = time.monotonic() + WITHIN_S
    while not came():
        assert time.monotonic() < end, "It never came."
        time.sleep(0.02)


@contextmanager
def seen(*, has_it: bool = True) -> Iterator[SeenServing]:
    """A process of a server on another machine, until the block ends."""
    process = SeenServing()
    process.begin()
    try:
        until(lambda: process.has_it if has_it else process.kept_out)
        yield process
    finally:
        process.end()


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(in_use, "MACHINE", "north")
    monkeypatch.setenv(SERVED_ON, "10.0.0.11, port 8000")


@contextmanager
def another_restores(settings: Any, folder: Path) -> Iterator[None]:
    """On a machine with another data folder."""
    here = settings.DATA_DIR
    settings.DATA_DIR = folder
    with shop_to_oneself("restores it"):
        settings.DATA_DIR = here
        yield


def refused(command: str, *options: str | Path, **named: Any) -> str:
    with pytest.raises(CommandError) as raised:
        call_command(command, *options, **named)
    assert raised.value.returncode == Exit.IN_USE, raised.value
    return str(raised.value)


def holder() -> tuple[int, Any, Any]:
    """Process, snapshot and transaction of who has the shop's lock."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pid, backend_xmin, backend_xid FROM pg_stat_activity "
            "WHERE datname = current_database() AND application_name LIKE '%% serves it%%'"
        )
        found = cursor.fetchone()
        return found or (0, None, None)


@among_machines
def test_nothing_is_taken_from_beneath_a_machine_that_serves(
    shop: Ticket, tmp_path: Path, elsewhere: None, capsys: pytest.CaptureFixture[str]
) -> None:
    made = make_backup(folder=tmp_path / "kept").path
    with seen():
        for command, options in (("restore", [made, "--replace"]), ("upgrade", []), ("upgrade", ["--back"])):
            said = refused(command, *options)
            assert "The shop is in use" in said
            assert "(north serves it on 10.0.0.11, port 8000)" in said
            assert said.endswith("Nothing was changed.")
        call_command("backup")
        call_command("send_reminders")
    assert Ticket.objects.get() == shop
    call_command("restore", made, "--replace", "--without-backup")
    assert "is restored" in capsys.readouterr().out


@among_machines
def test_nothing_begins_while_another_machine_restores(
    shop: Ticket, settings: Any, tmp_path: Path, elsewhere: None
) -> None:
    made = make_backup(folder=tmp_path / "kept").path
    before = sorted(tmp_path.glob("**/*.zip"))
    with another_restores(settings, tmp_path / "north"):
        for command, options in (
            ("serve", ["--http", "--port", "0"]),
            ("restore", [made, "--replace"]),
            ("upgrade", []),
            ("backup", []),
            ("send_reminders", []),
        ):
            assert "(north restores it)" in refused(command, *options), command
        with pytest.raises(ShopInUse), beside_others("reads it"):
            pass
    assert sorted(tmp_path.glob("**/*.zip")) == before
    call_command("backup")


@among_machines
def test_a_server_answers_nobody_until_the_restore_is_over(
    shop: Ticket, client: Any, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(seen_serving, "LOOKS_EVERY_S", 0.05)
    with another_restores(settings, tmp_path / "north"), seen(has_it=False) as process:
        monkeypatch.setattr(seen_serving, "_seen", process)
        assertContains(client.get("/sign-in/"), "The shop is being restored or upgraded", status_code=503)
        assert client.get("/ready").status_code == 503
        assert client.get("/live").status_code == 200
    with seen() as process:
        monkeypatch.setattr(seen_serving, "_seen", process)
        assert client.get("/sign-in/").status_code == 200


@among_machines
def test_a_lock_that_went_with_its_connection_is_taken_anew(
    shop: Ticket, settings: Any, tmp_path: Path, elsewhere: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(seen_serving, "LOOKS_EVERY_S", 0.05)
    with seen():
        first, snapshot, transaction = holder()
        assert first
        assert (snapshot, transaction) == (None, None), "it would keep old rows from being cleared away"
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s)", [first])
        until(lambda: holder()[0] not in {0, first})
        with pytest.raises(ShopInUse), shop_to_oneself():
            pass
    until(lambda: not holder()[0])
    with shop_to_oneself():
        pass


@among_machines
def test_what_cannot_be_seen_is_not_taken_for_free(
    shop: Ticket, data_dir: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_backup(folder=tmp_path / "kept").path
    away = connection.copy()
    away.settings_dict["PORT"] = "1"
    monkeypatch.setattr(connection, "copy", lambda *_: away)
    with pytest.raises(CannotBeSeen), shop_to_oneself():
        pass
    assert "cannot be seen" in refused("restore", made, "--replace", "--without-backup")
    assert Ticket.objects.get() == shop


def test_on_one_machine_the_lock_of_its_file_is_all(shop: Ticket, data_dir: Path) -> None:
    descriptor = in_use.hold_for_serving("127.0.0.1, port 8000")
    try:
        assert "serves it on 127.0.0.1, port 8000" in refused("upgrade")
    finally:
        os.close(descriptor)
    with shop_to_oneself(), pytest.raises(ShopInUse), shop_to_oneself():
        pass
