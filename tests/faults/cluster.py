"""A PostgreSQL of a test's own, to stop and start while a shop works on it."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import psycopg
import pytest

from tests.faults.served import free_port

T = TypeVar("T")


def postgresql_programs() -> Path | None:
    """The folder with the newest server programs on this machine, or None."""
    packaged = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
    beside = shutil.which("initdb")
    found = [*([Path(beside).resolve().parent] if beside else []), *packaged]
    return next((folder for folder in reversed(found) if (folder / "pg_ctl").exists()), None)


def needed(found: T | None, without: str) -> T:
    """What was found; without it the test is skipped, saying so, and in CI it fails."""
    if found is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(without)
    return found


class Cluster:
    """Its programs refuse to run as root; then they run as the user that Debian's package makes for them."""

    def __init__(self, programs: Path, folder: Path, follows: Cluster | None = None) -> None:
        """Empty, or a standby of another one that runs."""
        self.programs, self.folder, self.port = programs, folder, free_port()
        self._as: dict[str, Any] = {}
        if os.geteuid() == 0:
            owner = pwd.getpwnam("postgres")
            os.chown(folder, owner.pw_uid, owner.pw_gid)
            self._as = {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
        if follows is None:
            self.run("initdb", "-D", "data", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "-N")
        else:
            at = ("-h", "127.0.0.1", "-p", str(follows.port), "-U", "postgres")
            self.run("pg_basebackup", *at, "-D", "data", "-R", "-X", "stream", "-c", "fast", "-N")

    def start(self) -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={self.folder} -c fsync=off"
        self.run("pg_ctl", "-D", "data", "-w", "-l", "log", "-o", options, "start")

    def stop(self, mode: str) -> None:
        """`fast` tells every connection to go; `immediate` is what a crash does."""
        self.run("pg_ctl", "-D", "data", "-w", "-m", mode, "stop")

    def promote(self) -> None:
        """A standby takes writes from now on."""
        self.run("pg_ctl", "-D", "data", "-w", "promote")

    def wait_for_standby(self) -> None:
        """Acknowledge nothing from now on that a standby has not written down."""
        with psycopg.connect(f"postgres://postgres@127.0.0.1:{self.port}/postgres", autocommit=True) as connection:
            connection.execute("ALTER SYSTEM SET synchronous_standby_names = '*'")
            connection.execute("SELECT pg_reload_conf()")

    def make_database(self, name: str) -> str:
        """Its address."""
        self.run("createdb", "-h", "127.0.0.1", "-p", str(self.port), "-U", "postgres", name)
        return f"postgres://postgres@127.0.0.1:{self.port}/{name}"

    def run(self, program: str, *arguments: str) -> None:
        """One of the server's programs, or another by its whole path, as the server's user."""
        with (self.folder / "said").open("w+") as said:  # not a pipe: the server would keep its end open
            command = [str(self.programs / program), *arguments]
            status = subprocess.run(command, cwd=self.folder, stdout=said, stderr=said, check=False, **self._as)
            said.seek(0)
            assert status.returncode == 0, f"{program}: {said.read()[-2000:]}"


@contextmanager
def own_cluster(programs: Path, follows: Cluster | None = None) -> Iterator[Cluster]:
    """Not under pytest's folder, which nobody but the user of the tests may enter."""
    with tempfile.TemporaryDirectory(prefix="workshop-cluster-", ignore_cleanup_errors=True) as folder:
        cluster = Cluster(programs, Path(folder), follows)
        cluster.start()
        try:
            yield cluster
        finally:
            if (cluster.folder / "data" / "postmaster.pid").exists():
                cluster.stop("immediate")
