"""Tables without what the database does for each row, while rows come by the hundred thousand; done in bulk after.

Inside a transaction, so that a fill that fails leaves every index and key as it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from django.db import connection
from django.db.models import Model

# In the order in which they were made: SQLite takes the first of two indexes that seem equally good.
_INDEXES_ON_SQLITE = (
    "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = %s AND sql > '' ORDER BY rowid"
)
_INDEXES_ON_POSTGRESQL = """SELECT quote_ident(relname), pg_get_indexdef(indexrelid)
    FROM pg_index JOIN pg_class ON pg_class.oid = indexrelid
    WHERE indrelid = %s::regclass AND NOT indisunique ORDER BY indexrelid"""
_KEYS_ON_POSTGRESQL = """SELECT quote_ident(conname), pg_get_constraintdef(oid)
    FROM pg_constraint WHERE conrelid = %s::regclass AND contype = 'f' ORDER BY oid"""
_CACHE_KIB = 400_000
"""SQLite's, during the fill: ids come in no order, so all of their index is written to."""


@contextmanager
def without_indexes(models: Sequence[type[Model]]) -> Iterator[None]:
    """Take indexes away, and on PostgreSQL foreign keys, and make them anew at the end, which checks every row."""
    tables = [model._meta.db_table for model in models]
    if connection.vendor == "postgresql":
        anew = [statement for table in tables for statement in _strip_on_postgresql(table)]
        yield
        _execute(*anew, *(f'ANALYZE "{table}"' for table in tables))
        return
    usual = _rows("PRAGMA cache_size")[0][0]
    _execute(f"PRAGMA cache_size = -{_CACHE_KIB}")
    try:
        anew = [statement for table in tables for statement in _strip_on_sqlite(table)]
        yield
        _execute(*anew)
    finally:
        _execute(f"PRAGMA cache_size = {usual}")


def _strip_on_sqlite(table: str) -> list[str]:
    """Drop the table's indexes; returns the statements that make them."""
    indexes = _rows(_INDEXES_ON_SQLITE, table)
    _execute(*(f'DROP INDEX "{name}"' for name, _ in indexes))
    return [made_by for _, made_by in indexes]


def _strip_on_postgresql(table: str) -> list[str]:
    """Drop the table's foreign keys and plain indexes; returns the statements that make them."""
    keys, indexes = _rows(_KEYS_ON_POSTGRESQL, table), _rows(_INDEXES_ON_POSTGRESQL, table)
    _execute(*(f'ALTER TABLE "{table}" DROP CONSTRAINT {name}' for name, _ in keys))
    _execute(*(f"DROP INDEX {name}" for name, _ in indexes))
    added = [f'ALTER TABLE "{table}" ADD CONSTRAINT {name} {rule}' for name, rule in keys]
    return [*(made_by for _, made_by in indexes), *added]


def _rows(query: str, *values: str) -> list[tuple[str, str]]:
    with connection.cursor() as cursor:
        cursor.execute(query, values or None)
        return list(cursor.fetchall())


def _execute(*statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
