"""Tables held while they are changed, so that nothing is written between one state of them and the next.

On PostgreSQL, where another machine may be serving: whoever changes tables waits for a lock for a moment only, gives
up all that he had, and begins again, so that it is never a request that PostgreSQL ends for a deadlock (it looks for
one after a second). On SQLite a writer has the whole file to himself.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import TypeVar

from django.db import OperationalError, connection, transaction

WAIT_MS = 400  # below PostgreSQL's deadlock_timeout of a second
PATIENCE_S = 120.0
_REST_S = 0.3
_TAKEN = {"55P03", "40P01"}  # lock_not_available, deadlock_detected
_ONE_AT_A_TIME = 7_262_113_529  # any number that nothing else locks by; the same in every version
T = TypeVar("T")


class TablesBusy(Exception):
    """The tables could not be had within the time, and nothing was changed."""


def hold_tables(tables: Iterable[str]) -> None:
    """Let nobody read or write these tables until the transaction ends; a transaction has to be open."""
    if connection.vendor == "postgresql" and (
        names := sorted(set(tables) & set(connection.introspection.table_names()))
    ):
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE {', '.join(map(connection.ops.quote_name, names))} IN ACCESS EXCLUSIVE MODE")


def in_one_piece(change: Callable[[], T], *, patience_s: float = PATIENCE_S) -> T:
    """What `change` returns, done in one transaction, by one machine at a time, again where a table was taken.

    On SQLite, and within a transaction that is open already, `change` is called and nothing more.

    Raises TablesBusy: after `patience_s`; nothing was changed.
    """
    if connection.vendor != "postgresql" or connection.in_atomic_block:
        return change()
    end = time.monotonic() + patience_s
    while True:
        try:
            with transaction.atomic():
                _wait_for_turn()
                return change()
        except OperationalError as error:
            if getattr(error.__cause__, "sqlstate", "") not in _TAKEN:
                raise
            if time.monotonic() > end:
                raise TablesBusy(
                    f"Others had tables open for {patience_s:.0f} s without a break. Nothing was changed; try again."
                ) from error
        time.sleep(_REST_S)


def _wait_for_turn() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_ONE_AT_A_TIME])
        cursor.execute(f"SET LOCAL lock_timeout = '{WAIT_MS}ms'")
