"""PgBouncer in transaction mode between a shop and its PostgreSQL, set up as .examples/pgbouncer.ini says."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from tests.pgbouncer import pgbouncer_before, pgbouncer_program


def pooler_program() -> str | None:
    return pgbouncer_program()


@contextmanager
def pooled(program: str, address: str) -> Iterator[str]:
    """The address by which the database at `address` is had through PgBouncer."""
    with pgbouncer_before(program, address, address.rpartition("/")[2]) as through:
        yield through
