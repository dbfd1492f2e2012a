"""Which database Django's "default" means for a while: a snapshot to read from, or a new file to restore into."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper


@contextmanager
def default_is(wrapper: BaseDatabaseWrapper) -> Iterator[BaseDatabaseWrapper]:
    """Let `wrapper` be the default database of this thread, so that models and migrations need no alias."""
    before = connections["default"]
    connections["default"] = wrapper
    try:
        yield wrapper
    finally:
        wrapper.close()
        connections["default"] = before


def take_statistics() -> None:
    """What PostgreSQL plans by, after many rows at once: its own round comes a minute later. SQLite keeps none."""
    wrapper = connections["default"]
    if wrapper.vendor == "postgresql":
        with wrapper.cursor() as cursor:
            cursor.execute("ANALYZE")


@contextmanager
def snapshot() -> Iterator[BaseDatabaseWrapper]:
    """Read the database as it is at one moment, while the shop goes on writing.

    SQLite: a deferred transaction in WAL sees the moment of its first read and holds no writer up. PostgreSQL:
    REPEATABLE READ, read only.
    """
    wrapper = connections["default"].copy()
    options = wrapper.settings_dict.setdefault("OPTIONS", {})
    if wrapper.vendor == "sqlite":
        options["transaction_mode"] = "DEFERRED"
        options["init_command"] = "PRAGMA query_only=ON;"
    else:
        from django.db.backends.postgresql.psycopg_any import IsolationLevel

        options["isolation_level"] = IsolationLevel.REPEATABLE_READ
    with default_is(wrapper), transaction.atomic():
        with wrapper.cursor() as cursor:
            if wrapper.vendor != "sqlite":
                cursor.execute("SET TRANSACTION READ ONLY")
            wrapper.introspection.table_names(cursor)  # the first read: from here on nothing moves
        yield wrapper


def sqlite_file(wrapper: BaseDatabaseWrapper) -> Path:
    """The file of a SQLite database."""
    return Path(str(wrapper.settings_dict["NAME"]))


def described(wrapper: BaseDatabaseWrapper) -> str:
    """The database in words, without its password."""
    if wrapper.vendor == "sqlite":
        return str(sqlite_file(wrapper))
    facts = wrapper.settings_dict
    where = f" on {facts['HOST']}" if facts.get("HOST") else ""
    return f"the PostgreSQL database {facts['NAME']}{where}"


def keep_private(wrapper: BaseDatabaseWrapper) -> None:
    """Let nobody else on the machine read the database's file: SQLite makes it as readable as the account allows."""
    if wrapper.vendor == "sqlite" and not wrapper.is_in_memory_db():  # type: ignore[attr-defined]
        main = sqlite_file(wrapper)
        for part in (main, main.with_name(f"{main.name}-wal"), main.with_name(f"{main.name}-shm")):
            with contextlib.suppress(FileNotFoundError):
                part.chmod(0o600)


def at_file(path: Path) -> BaseDatabaseWrapper:
    """A connection to another SQLite file, set up as the shop's own is."""
    wrapper = connections["default"].copy()
    wrapper.settings_dict["NAME"] = str(path)
    return wrapper


def database_bytes(wrapper: BaseDatabaseWrapper) -> int:
    """How much room the database takes on its disk."""
    if wrapper.vendor == "sqlite":
        main = sqlite_file(wrapper)
        parts = (main, main.with_name(f"{main.name}-wal"))
        return sum(part.stat().st_size for part in parts if part.exists())
    with wrapper.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return int(cursor.fetchone()[0])
