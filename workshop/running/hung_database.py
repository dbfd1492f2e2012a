"""A PostgreSQL that is there and says nothing more, as when its machine is frozen: nobody waits for it without end.

Its network goes on acknowledging what arrives, so that none of the network's own limits ends the wait.
"""

from __future__ import annotations

from typing import Any

import psycopg
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created
from psycopg.abc import RV, PQGen

# Longer than somebody waits for a row that is locked (20 s), which PostgreSQL itself ends, and says so.
ANSWERS_WITHIN_S = 25.0


def give_up_on_a_hung_database() -> None:
    """From now on, in this process. A command that may take its time, such as a restore, does not ask for it."""
    connection_created.connect(_give_up, dispatch_uid="a hung database")


def answers_within(connection: psycopg.Connection[Any], seconds: float) -> None:
    """Have each wait of this connection end after so long, with an OperationalError and the connection closed."""
    plainly = connection.wait

    def wait(gen: PQGen[RV], interval: float = 0.1, timeout: float | None = None) -> RV:
        try:
            return plainly(gen, interval, seconds if timeout is None else timeout)
        except psycopg.OperationalError as error:
            if error.sqlstate is None:
                connection.pgconn.finish()  # what it may still say is no answer to what is asked next
            raise

    connection.wait = wait  # type: ignore[method-assign]  # of this one connection; its library has no setting for it


def _give_up(connection: BaseDatabaseWrapper, **_: Any) -> None:
    if connection.vendor == "postgresql" and connection.connection is not None:
        answers_within(connection.connection, ANSWERS_WITHIN_S)
