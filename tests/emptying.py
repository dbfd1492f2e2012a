"""Emptying the tables after a test that commits: on PostgreSQL only those that have a row, and row by row.

TRUNCATE makes new files for each table and each of its indexes, however empty; after a test a few tables have a few
rows. As with TRUNCATE no trigger is fired, and no foreign key asked: all rows of all tables go.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.staff import append_only


def delete_rather_than_truncate(connection: BaseDatabaseWrapper) -> None:
    """For this process, where the database's user may leave triggers out; another user's tests go on as they did.

    Of every connection of the kind: a test of restoring makes new ones.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper FROM pg_roles WHERE rolname = current_user")
        (may,) = cursor.fetchone()
    operations: Any = type(connection.ops)
    truncate = operations.sql_flush

    def delete(
        self: Any, style: Any, tables: Sequence[str], *, reset_sequences: bool = False, allow_cascade: bool = False
    ) -> Any:
        # For this transaction alone, in which Django runs all of these; nobody else may empty the security log.
        no_triggers = "SET LOCAL session_replication_role = replica"
        if reset_sequences or not tables:
            emptied = truncate(self, style, tables, reset_sequences=reset_sequences, allow_cascade=allow_cascade)
            return [no_triggers, *emptied]
        return [no_triggers, *(f"DELETE FROM {name}" for name in tables_with_rows(self.connection, tables))]  # noqa: S608  names of our tables

    if may:
        operations.sql_flush = delete


def leave_the_log_open(connection: BaseDatabaseWrapper) -> None:
    """On SQLite, for this process: a shop lets nobody empty its security log, a test does; the triggers come back."""
    operations: Any = type(connection.ops)
    empty = operations.sql_flush

    def without_triggers(self: Any, style: Any, tables: Sequence[str], **options: Any) -> Any:
        away = [f"DROP TRIGGER IF EXISTS {name}" for name in append_only.TRIGGERS]
        return [*away, *empty(self, style, tables, **options), *append_only.sqlite_triggers()]

    operations.sql_flush = without_triggers


def tables_with_rows(connection: BaseDatabaseWrapper, tables: Sequence[str]) -> list[str]:
    """Their names as they stand in a statement, asked in one."""
    quoted = [connection.ops.quote_name(name) for name in tables]
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + ", ".join(f"EXISTS (SELECT 1 FROM {name})" for name in quoted))  # noqa: S608  as above
        return [name for name, has_rows in zip(quoted, cursor.fetchone(), strict=True) if has_rows]
