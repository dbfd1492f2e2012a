"""A lock that one process of all machines holds for as long as it works, and that ends with it, however it ends.

On PostgreSQL an advisory lock of a transaction on a connection of its own: it lies where every machine sees it, and
PgBouncer keeps such a transaction on one connection. On SQLite, which one machine has, a lock of a file beside the
data.
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

_OURS = 7_262  # any number that nothing else locks by together with a second one; the same in every version


@contextmanager
def alone_at(what: str) -> Iterator[bool]:
    """Whether this process alone is at it, until the block ends; nobody is waited for."""
    with _held_at_database(what) if connections["default"].vendor == "postgresql" else _held_file(what) as alone:
        yield alone


@contextmanager
def _held_at_database(what: str) -> Iterator[bool]:
    own = connections["default"].copy()
    try:
        own.set_autocommit(False)
        with own.cursor() as cursor:
            cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")  # a backup may take an hour
            cursor.execute("SELECT pg_try_advisory_xact_lock(%s, %s)", [_OURS, zlib.crc32(what.encode()) >> 1])
            alone = bool(cursor.fetchone()[0])
        yield alone
    finally:
        own.close()


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
