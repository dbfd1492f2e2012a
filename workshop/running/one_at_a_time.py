"""A lock that processes of all machines hold for as long as they work, and that ends with each, however it ends.

On PostgreSQL an advisory lock of a transaction on a connection of its own: it lies where every machine sees it, and
PgBouncer keeps such a transaction on one connection, where it would give a session's lock to whoever comes next. It
has no snapshot and no table, so it holds nobody up. On SQLite, which one machine has, a lock of a file beside the data.
"""

from __future__ import annotations

import fcntl
import os
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

_OURS = 7_262  # any number that nothing else locks by together with a second one; the same in every version
_LONGEST_NAME = 63  # PostgreSQL cuts the name of a session there
_TAKE_ALONE = "SELECT pg_try_advisory_xact_lock(%s, %s)"
_TAKE_WITH_OTHERS = "SELECT pg_try_advisory_xact_lock_shared(%s, %s)"
_WHO = (
    "SELECT a.application_name FROM pg_locks l JOIN pg_stat_activity a USING (pid) WHERE l.locktype = 'advisory' "
    "AND l.granted AND l.classid = %s AND l.objid = %s AND l.objsubid = 2 AND l.pid <> pg_backend_pid() "
    "AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database()) ORDER BY a.backend_start"
)


@contextmanager
def alone_at(what: str) -> Iterator[bool]:
    """Whether this process alone is at it, until the block ends; nobody is waited for."""
    if connections["default"].vendor != "postgresql":
        with _held_file(what) as alone:
            yield alone
        return
    with own_connection() as own:
        yield take_lock(own, what)


@contextmanager
def own_connection() -> Iterator[BaseDatabaseWrapper]:
    """A connection to the shop's PostgreSQL in a transaction that stays open until the block ends."""
    own = connections["default"].copy()
    try:
        own.set_autocommit(False)
        with own.cursor() as cursor:
            cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")  # a backup may take an hour
        yield own
    finally:
        own.close()


def take_lock(own: BaseDatabaseWrapper, what: str, *, with_others: bool = False, who: str = "") -> bool:
    """Whether the lock could be had, on a connection of `own_connection`, which it ends with; nobody is waited for.

    Args:
        with_others: beside all who ask so, too, and beside nobody who asks for it alone.
        who: has it, for `who_holds`.
    """
    with own.cursor() as cursor:
        if who:
            cursor.execute("SELECT set_config('application_name', %s, true)", [who[:_LONGEST_NAME]])
        cursor.execute(_TAKE_WITH_OTHERS if with_others else _TAKE_ALONE, _numbers(what))
        return bool(cursor.fetchone()[0])


def who_holds(own: BaseDatabaseWrapper, what: str) -> list[str]:
    """Those on other connections who have the lock, each as it named itself, the first one first."""
    with own.cursor() as cursor:
        cursor.execute(_WHO, _numbers(what))
        return list(dict.fromkeys(name for (name,) in cursor.fetchall() if name))


def _numbers(what: str) -> list[int]:
    return [_OURS, zlib.crc32(what.encode()) >> 1]


@contextmanager
def _held_file(what: str) -> Iterator[bool]:
    place = Path(settings.DATA_DIR) / f"{what}-run.lock"
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(place, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            yield False
        else:
            yield True
    finally:
        os.close(descriptor)
