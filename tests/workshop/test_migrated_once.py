"""A migrated database that is kept between runs: for which migrations it holds, and what is in it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from tests.migrated_once import APPS, files_that_decide, is_migrated, keep, kept_in, key_of, put_in_place


def written(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Two migrations, a module that one of them imports, and one that none does."""
    written(tmp_path / "specs/migrations/0001_first.py", "import django\n")
    written(tmp_path / "workshop/migrations/0001_first.py", "from workshop.web.folded import fold\n")
    written(tmp_path / "workshop/web/folded.py", "fold = 1\n")
    written(tmp_path / "workshop/views.py", "")
    return tmp_path


def key(project: Path) -> str:
    return key_of(files_that_decide(project), root=project)


@pytest.mark.parametrize(
    "changed", ["specs/migrations/0001_first.py", "workshop/web/folded.py", "diagnosis/migrations/0001_new.py"]
)
def test_it_holds_until_a_migration_changes_or_what_it_imports(project: Path, changed: str) -> None:
    before = key(project)
    written(project / "workshop/views.py", "anything = 2\n")
    assert key(project) == before
    written(project / changed, "# otherwise\n")
    assert key(project) != before


def test_every_migration_of_ours_decides() -> None:
    files = files_that_decide()
    assert {path.parent.parent.name for path in files if path.parent.name == "migrations"} == set(APPS)
    assert {config.label for config in apps.get_app_configs()} >= set(APPS)
    assert "folded_field.py" in {path.name for path in files}  # a column's type stands there


def test_a_copy_has_the_tables_and_no_trigger_and_older_ones_go(tmp_path: Path) -> None:
    database, kept = tmp_path / "tests.sqlite3", kept_in(tmp_path)
    with closing(sqlite3.connect(database)) as shop:
        shop.execute("PRAGMA journal_mode=WAL")
        shop.execute("CREATE TABLE ticket (number INTEGER)")
        shop.execute("CREATE TRIGGER kept AFTER INSERT ON ticket BEGIN DELETE FROM ticket; END")
        shop.commit()
        old = written(tmp_path / "old.sqlite3", "")
        assert not put_in_place(kept, tmp_path / "other.sqlite3")
        keep(database, kept)
    assert not old.exists()
    assert put_in_place(kept, tmp_path / "next" / "tests.sqlite3")
    with closing(sqlite3.connect(tmp_path / "next" / "tests.sqlite3")) as copy:
        assert copy.execute("SELECT type, name FROM sqlite_master").fetchall() == [("table", "ticket")]


def test_a_database_that_no_test_asked_for_is_not_taken_for_a_migrated_one(tmp_path: Path) -> None:
    database = tmp_path / "tests.sqlite3"
    assert not is_migrated(database)
    assert not database.exists()
    with closing(sqlite3.connect(database)) as shop:
        shop.execute("PRAGMA journal_mode=WAL")
        assert not is_migrated(database)
        shop.execute("CREATE TABLE django_migrations (id INTEGER)")
        assert is_migrated(database)


def test_the_copy_of_this_run_has_the_tables_and_what_migrations_wrote(db: None, migrated_copy: Path | None) -> None:
    if connection.vendor != "sqlite":
        assert migrated_copy is None
        return
    assert migrated_copy is not None
    with closing(sqlite3.connect(migrated_copy)) as copy:
        kept = {name for (name,) in copy.execute("SELECT name FROM django_migrations WHERE app = 'workshop'")}
        tables = {name for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert set(MigrationRecorder(connection).applied_migrations()) >= {("workshop", name) for name in kept}
    assert kept >= {name for _, name in MigrationLoader(None).graph.leaf_nodes("workshop")}
    assert {model._meta.db_table for model in apps.get_models()} <= tables
