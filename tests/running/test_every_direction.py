"""Backups between the two databases in all four directions, with the tables made by the real migrations.

The migrations are the longest part of a restore. In the usual run they make the tables where a shop changes its kind of
database, and once more over a shop on PostgreSQL, which is emptied in place; `-m long` makes every table by them.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from tests.factories import CustomerFactory
from tests.faults.cluster import needed, own_cluster, postgresql_programs
from tests.faults.served import postgresql_at
from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from workshop.models import Photo, Shop, Ticket
from workshop.running import loading, upgrading
from workshop.running.backup import BackupMade, make_backup
from workshop.running.tables import open_migrations
from workshop.running.upgrading import UpgradeStep


@pytest.fixture(scope="module")
def own_server() -> Iterator[str]:
    """The address of a database on a PostgreSQL of these tests' own, empty where they run on PostgreSQL already."""
    if "postgres" in os.environ.get("DATABASE_URL", ""):
        yield ""
        return
    programs = needed(postgresql_programs(), "No PostgreSQL server on this machine.")
    with own_cluster(programs) as cluster:
        yield cluster.make_database("machines")


@pytest.fixture
def server(own_server: str, transactional_db: None) -> Iterator[BaseDatabaseWrapper]:
    """A connection that may create databases."""
    there = postgresql_at(own_server) if own_server else connections["default"]
    yield there
    if own_server:
        there.close()


@contextmanager
def tables(*, by_migrations: bool) -> Iterator[None]:
    """How a restore makes its tables meanwhile: as it does, or without the way of the migrations."""
    with pytest.MonkeyPatch.context() as patch:
        if not by_migrations:
            patch.setattr(loading, "make_tables", make_tables_at_once)
        yield


def quickly_restored(made: BackupMade) -> None:
    """Where a shop only has to be there."""
    with tables(by_migrations=False):
        restore_backup(made.path)


@pytest.fixture
def first(shop: Ticket, tmp_path: Path) -> BackupMade:
    return make_backup(folder=tmp_path / "backups")


def content(made: BackupMade) -> dict[str, Any]:
    manifest = made.manifest
    rows = {label: (table.rows, table.rows_sha256) for label, table in manifest.tables.items()}
    return {"rows": rows, "files": manifest.files}


@pytest.mark.parametrize("always_migrates", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize("target", ["sqlite", "postgresql"])
@pytest.mark.parametrize("source", ["sqlite", "postgresql"])
def test_a_shop_goes_from_each_database_to_each(
    first: BackupMade,
    server: BaseDatabaseWrapper,
    settings: Any,
    tmp_path: Path,
    source: str,
    target: str,
    always_migrates: bool,
) -> None:
    migrates = always_migrates or source != target
    with empty_machine(settings, tmp_path / "old", kind=source, server=server):
        assert connections["default"].vendor == source
        quickly_restored(first)
        second = make_backup(folder=tmp_path / "old-backups")
    with empty_machine(settings, tmp_path / "new", kind=target, server=server):
        with tables(by_migrations=migrates):
            call_command("restore", second.path)
        third = make_backup(folder=tmp_path / "new-backups")
        assert third.manifest.database.lower().startswith(target)
        assert open_migrations(connections["default"]) == []
        assert CustomerFactory(shop=Shop.objects.get()).pk > Ticket.objects.get().customer_id
        with tables(by_migrations=always_migrates or (migrates and target == "postgresql")):
            call_command("restore", second.path, replace=True)  # and once more, over the shop that is there now
        fourth = make_backup(folder=tmp_path / "new-backups", name="again.zip")
    assert content(first) == content(second) == content(third) == content(fourth)


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_an_upgrade_that_fails_half_way_goes_back(
    first: BackupMade, server: BaseDatabaseWrapper, settings: Any, tmp_path: Path, monkeypatch: Any, kind: str
) -> None:
    with empty_machine(settings, tmp_path / "machine", kind=kind, server=server):
        quickly_restored(first)

        def breaks() -> None:
            Ticket.objects.update(complaint_words="Overwritten")
            Photo.objects.get().file.delete(save=False)
            with connection.cursor() as cursor:
                cursor.execute("ALTER TABLE workshop_shop ADD COLUMN half_way integer")
            raise RuntimeError("half way")

        monkeypatch.setattr("workshop.management.commands.upgrade.steps", lambda: [UpgradeStep("Migrations", breaks)])
        with pytest.raises(CommandError, match="as it was before"):
            call_command("upgrade")
        after = make_backup(folder=tmp_path / "after")
        with connection.cursor() as cursor:
            columns = {row.name for row in connection.introspection.get_table_description(cursor, "workshop_shop")}
        assert "half_way" not in columns
        assert content(after) == content(first)
        monkeypatch.setattr("workshop.management.commands.upgrade.steps", lambda: upgrading.steps()[:1])
        call_command("upgrade")  # the shop that came back can be upgraded
