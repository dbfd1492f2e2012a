"""What the tables of a database are, in words that can be compared whichever way they were made."""

from __future__ import annotations

import re

from django.db.backends.base.base import BaseDatabaseWrapper


def schema_of(wrapper: BaseDatabaseWrapper) -> dict[str, list[str]]:
    """Table -> its columns, rules and indexes, sorted: the order in which they were added says nothing."""
    with wrapper.cursor() as cursor:
        if wrapper.vendor == "postgresql":
            cursor.execute(
                "SELECT table_name, concat_ws(' ', column_name, data_type, character_maximum_length, "
                "numeric_precision, numeric_scale, is_nullable, column_default, is_identity, generation_expression) "
                "FROM information_schema.columns WHERE table_schema = 'public' "
                "UNION ALL SELECT conrelid::regclass::text, conname || ' ' || pg_get_constraintdef(oid) "
                "FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND conrelid > 0 "
                "UNION ALL SELECT tablename, indexdef FROM pg_indexes WHERE schemaname = 'public'"
            )
            found = cursor.fetchall()
        else:
            cursor.execute(
                "SELECT tbl_name, sql FROM sqlite_master WHERE type IN ('table', 'index') AND sql IS NOT NULL"
            )
            found = [(table, one) for table, sql in cursor.fetchall() for one in _parts(sql)]
    tables: dict[str, list[str]] = {}
    for table, one in found:
        tables.setdefault(table, []).append(_without_casts(one) if wrapper.vendor == "postgresql" else one)
    return {table: sorted(parts) for table, parts in sorted(tables.items())}


def _without_casts(part: str) -> str:
    """PostgreSQL writes a rule with casts from the type its column had when it was made, each in brackets."""
    return re.sub(r"::(?:text|character varying)(?:\[\])?|[()]", "", part) if " CHECK " in part else part


def _parts(sql: str) -> list[str]:
    """A table's columns and rules, each by itself: split at the commas that no bracket holds."""
    head, _, rest = sql.partition("(")
    if not head.upper().startswith("CREATE TABLE"):
        return [sql]
    parts, depth, begun = [head.strip()], 0, 0
    for at, sign in enumerate(rest):
        depth += {"(": 1, ")": -1}.get(sign, 0)
        if (sign == "," and depth == 0) or depth < 0:
            parts.append(rest[begun:at].strip())
            begun = at + 1
            if depth < 0:
                break
    return parts
