"""Databases of their own for shops in processes of their own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection as tests_connection

from tests.benchmarks.shop_process import ROOT


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


def as_served() -> dict[str, str]:
    """The environment of a process that serves this test's database, its static files collected as `serve` does."""
    name = str(tests_connection.settings_dict["NAME"])
    environment = {"DATABASE_URL": f"sqlite:///{name}", **named(name), "ALLOWED_HOSTS": "testserver"}
    collect = [sys.executable, "manage.py", "collectstatic", "--noinput", "-v0"]
    subprocess.run(collect, cwd=ROOT, env={**os.environ, **environment}, check=True)
    return environment
