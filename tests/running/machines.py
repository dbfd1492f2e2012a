"""Other machines for the shop to be restored on: an empty database of either kind and an empty folder."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.apps import apps
from django.contrib.contenttypes.models import ContentType
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from workshop.running.databases import default_is

INIT = "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
_numbers = itertools.count(1)


@contextmanager
def empty_machine(
    settings: Any, folder: Path, *, kind: str = "", server: BaseDatabaseWrapper | None = None
) -> Iterator[Path]:
    """For a while, the shop's database and folder are new ones.

    Args:
        kind: sqlite or postgresql, by default as here.
        server: a database on the PostgreSQL server that makes the new one; by default the one the tests run on.
    """
    kind = kind or connections["default"].vendor
    before = {name: getattr(settings, name) for name in ("DATA_DIR", "MEDIA_ROOT", "BACKUP_DIR")}
    settings.DATA_DIR, settings.MEDIA_ROOT, settings.BACKUP_DIR = folder, folder / "files", folder / "backups"
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with _database(kind, folder, server or connections["default"]) as wrapper, default_is(wrapper):
            ContentType.objects.clear_cache()
            yield folder
    finally:
        ContentType.objects.clear_cache()
        for name, value in before.items():
            setattr(settings, name, value)


def make_tables_at_once(loader: MigrationLoader, nodes: list[tuple[str, str]]) -> None:
    """The tables of today's models in the loader's database, without the way there."""
    wrapper = loader.connection
    assert wrapper is not None
    recorder = MigrationRecorder(wrapper)
    recorder.ensure_schema()
    for node in nodes:
        squashed = loader.replacements.get(node)
        for app, name in (node, *(squashed.replaces if squashed else ())):
            recorder.record_applied(app, name)
    with wrapper.schema_editor() as editor:
        for model in apps.get_models():
            if model._meta.managed and not model._meta.proxy:
                editor.create_model(model)


@contextmanager
def _database(kind: str, folder: Path, here: BaseDatabaseWrapper) -> Iterator[BaseDatabaseWrapper]:
    if kind == "sqlite":
        yield sqlite_at(folder / "shop.sqlite3")
        return
    name = f"{here.settings_dict['NAME']}_machine_{next(_numbers)}"
    with here.cursor() as cursor:
        cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')
        cursor.execute(f'CREATE DATABASE "{name}"')
    there = here.copy()
    there.settings_dict["NAME"] = name
    try:
        yield there
    finally:
        there.close()
        with here.cursor() as cursor:
            cursor.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def sqlite_at(path: Path) -> BaseDatabaseWrapper:
    """A SQLite database in this file, set up as a shop's is, whatever the tests run on."""
    from django.db.backends.sqlite3.base import DatabaseWrapper

    template = connections["default"].copy().settings_dict
    options = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    }
    return DatabaseWrapper({**template, "ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "OPTIONS": options})
