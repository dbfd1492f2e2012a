"""Triggers that are there; on PostgreSQL each with a function of its name, and a mark by which it is known again."""

from __future__ import annotations

import hashlib

from django.db import connection


def put_trigger(name: str, when: str, does: str) -> None:
    """`when` is all that stands between name and function, `does` the statements."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {does} RETURN NULL; END $$"
        )
        cursor.execute(f"COMMENT ON FUNCTION {name}() IS '{mark_of_trigger(when, does)}'")
        cursor.execute(f"CREATE TRIGGER {name} {when} EXECUTE FUNCTION {name}()")


def drop_trigger(name: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DROP FUNCTION IF EXISTS {name}() CASCADE")


def triggers_there() -> dict[str, str]:
    """Trigger -> the mark of what it does; empty for one put there before there were marks, and on SQLite."""
    of_postgresql = (
        "SELECT t.tgname, coalesce(obj_description(t.tgfoid, 'pg_proc'), '') FROM pg_trigger t "
        "JOIN pg_class c ON c.oid = t.tgrelid WHERE NOT t.tgisinternal AND pg_table_is_visible(c.oid)"
    )
    of_sqlite = "SELECT name, '' FROM sqlite_master WHERE type = 'trigger'"
    with connection.cursor() as cursor:
        cursor.execute(of_postgresql if connection.vendor == "postgresql" else of_sqlite)
        return dict(cursor.fetchall())


def mark_of_trigger(when: str, does: str) -> str:
    return hashlib.sha256(f"{when} {does}".encode()).hexdigest()[:16]
