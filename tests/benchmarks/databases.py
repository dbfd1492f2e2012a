"""Databases of their own for shops in processes of their own."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager


def named(name: str) -> dict[str, str]:
    """The environment of a database of that name beside the tests' own; empty on SQLite, where a folder is enough."""
    address = os.environ.get("DATABASE_URL", "")
    return {"DATABASE_URL": f"{address.rpartition('/')[0]}/{name}"} if address.startswith("postgres") else {}


def is_there(name: str) -> bool:
    """On PostgreSQL only."""
    import psycopg

    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as connection:
        found = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone()
    return found is not None


def make(name: str) -> None:
    """An empty one, whatever was there; on PostgreSQL only. `name` is one of ours, never what somebody typed."""
    _do(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)', f'CREATE DATABASE "{name}"')


def drop(name: str) -> None:
    _do(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


@contextmanager
def beside_the_tests(name: str) -> Iterator[dict[str, str]]:
    """The environment of an empty database of that name, which goes away again."""
    environment = named(name)
    if environment:
        make(name)
    try:
        yield environment
    finally:
        if environment:
            drop(name)


def _do(*statements: str) -> None:
    import psycopg

    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as connection:
        for statement in statements:
            connection.execute(statement.encode())
