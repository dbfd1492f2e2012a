"""Whether this user of the database may alter its tables: where machines serve with a user of fewer rights, not."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

# Who owns the table of migrations owns them all; where none is there yet, who may make tables makes it.
_MAY = (
    "SELECT coalesce((SELECT pg_has_role(relowner, 'USAGE') FROM pg_class "
    "WHERE oid = to_regclass('django_migrations')), has_schema_privilege(current_schema(), 'CREATE'), false)"
)


def may_alter_tables(wrapper: BaseDatabaseWrapper) -> bool:
    """On SQLite always: the file is the shop's."""
    if wrapper.vendor != "postgresql":
        return True
    with wrapper.cursor() as cursor:
        cursor.execute(_MAY)
        return bool(cursor.fetchone()[0])
