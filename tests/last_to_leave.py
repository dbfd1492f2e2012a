"""What still talks to the tests' database when they are over: a page's last question, a server that was just killed."""

from __future__ import annotations

import time

from django.db.backends.base.base import BaseDatabaseWrapper

_HOW_MANY = """SELECT count(*) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend'"""
_END_THEM = """SELECT state, application_name, query, pg_terminate_backend(pid, 5000) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend'"""


def end_other_sessions(connection: BaseDatabaseWrapper, patience_s: float = 10.0) -> list[str]:
    """What those were doing on PostgreSQL that were ended because they did not go by themselves within `patience_s`.

    PostgreSQL takes away no database that somebody is connected to.
    """
    end = time.monotonic() + patience_s
    with connection.cursor() as cursor:
        while time.monotonic() < end:
            cursor.execute(_HOW_MANY)
            if not cursor.fetchone()[0]:
                return []
            time.sleep(0.1)
        cursor.execute(_END_THEM)
        return [f"{state} ({name or 'no name'}): {query}" for state, name, query, _ in cursor.fetchall()]
