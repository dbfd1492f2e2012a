"""A PgBouncer in transaction mode in front of a PostgreSQL, set up as .examples/pgbouncer.ini says; knows no Django."""

from __future__ import annotations

import configparser
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg

EXAMPLE = Path(__file__).parent.parent / ".examples" / "pgbouncer.ini"
ANY_DATABASE = "*"
_ANSWERS_WITHIN_S = 60


def pgbouncer_program() -> str | None:
    return shutil.which("pgbouncer", path=f"{os.environ.get('PATH', '')}:/usr/sbin")


@contextmanager
def pgbouncer_before(program: str, address: str, name: str, **settings: str) -> Iterator[str]:
    """The address by which the database at `address` is had through it.

    Args:
        name: the one database that it has, or ANY_DATABASE for all of that server.
        settings: of PgBouncer, in place of the example's.
    """
    straight = urlsplit(address)
    user, database = straight.username or "postgres", straight.path.lstrip("/")
    example = configparser.ConfigParser(interpolation=None)
    example.read(EXAMPLE)
    asked = example["databases"]["workshop"].partition("connect_query=")[2]
    which = "" if name == ANY_DATABASE else f"dbname={name} "
    at = f"host={straight.hostname} port={straight.port or 5432}"
    example["databases"] = {name: f"{at} {which}connect_query={asked}"}
    with tempfile.TemporaryDirectory(prefix="workshop-pooler-") as folder:
        place = Path(folder)
        (place / "users").write_text(f'"{user}" "{straight.password or ""}"\n')
        port = _free_port()
        here = {"listen_port": str(port), "auth_type": "trust", "auth_file": str(place / "users")}
        example["pgbouncer"].update(here | {"unix_socket_dir": ""} | settings)
        with (place / "pgbouncer.ini").open("w") as out:
            example.write(out)
        through = f"postgres://{user}@127.0.0.1:{port}/{database}"
        with _running([program, str(place / "pgbouncer.ini")], place):
            _wait_for(through)
            yield through


@contextmanager
def _running(command: list[str], place: Path) -> Iterator[None]:
    """As another user than root, as whom it refuses to run."""
    owner: dict[str, Any] = {}
    if os.geteuid() == 0:
        postgres = pwd.getpwnam("postgres")
        owner = {"user": postgres.pw_uid, "group": postgres.pw_gid}
        for path in (place, *place.iterdir()):
            os.chown(path, postgres.pw_uid, postgres.pw_gid)
    process = subprocess.Popen(command, stderr=subprocess.DEVNULL, **owner)
    try:
        yield
    finally:
        process.terminate()
        process.wait()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(address: str) -> None:
    give_up = time.monotonic() + _ANSWERS_WITHIN_S
    while True:
        try:
            psycopg.connect(address).close()
        except psycopg.OperationalError:
            assert time.monotonic() < give_up, "PgBouncer does not answer"
            time.sleep(0.1)
        else:
            return
