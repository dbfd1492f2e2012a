"""PgBouncer in transaction mode between a shop and its PostgreSQL, set up as .examples/pgbouncer.ini says."""

from __future__ import annotations

import configparser
import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
from django.conf import settings

from tests.faults.served import free_port

EXAMPLE = settings.BASE_DIR / ".examples" / "pgbouncer.ini"


def pooler_program() -> str | None:
    return shutil.which("pgbouncer", path=f"{os.environ.get('PATH', '')}:/usr/sbin")


@contextmanager
def pooled(program: str, address: str) -> Iterator[str]:
    """The address by which the database at `address` is had through PgBouncer."""
    straight, _, name = address.rpartition("/")
    server, port = straight.rpartition("@")[2].split(":")
    example = configparser.ConfigParser(interpolation=None)
    example.read(EXAMPLE)
    asked = example["databases"]["workshop"].partition("connect_query=")[2]
    ours = free_port()
    example["databases"] = {name: f"host={server} port={port} dbname={name} connect_query={asked}"}
    with tempfile.TemporaryDirectory(prefix="workshop-pooler-") as folder:
        place = Path(folder)
        (place / "users").write_text('"postgres" ""\n')
        here = {"listen_port": str(ours), "auth_type": "trust", "auth_file": str(place / "users")}
        example["pgbouncer"].update(here | {"unix_socket_dir": ""})
        with (place / "pgbouncer.ini").open("w") as out:
            example.write(out)
        command = [program, str(place / "pgbouncer.ini")]
        if os.geteuid() == 0:  # it refuses to run as root
            owner = pwd.getpwnam("postgres")
            for path in (place, *place.iterdir()):
                os.chown(path, owner.pw_uid, owner.pw_gid)
            process = subprocess.Popen(command, user=owner.pw_uid, group=owner.pw_gid, stderr=subprocess.DEVNULL)
        else:
            process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        try:
            through = f"postgres://postgres@127.0.0.1:{ours}/{name}"
            _wait_for(through)
            yield through
        finally:
            process.terminate()
            process.wait()


def _wait_for(address: str) -> None:
    give_up = time.monotonic() + 30
    while True:
        try:
            psycopg.connect(address).close()
        except psycopg.OperationalError:
            assert time.monotonic() < give_up, "PgBouncer does not answer"
            time.sleep(0.1)
        else:
            return
