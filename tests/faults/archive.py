"""PostgreSQL's changes kept one after the other by pgBackRest, set up as .examples/pgbackrest.conf says."""

from __future__ import annotations

import configparser
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from tests.faults.cluster import Cluster

EXAMPLE = settings.BASE_DIR / ".examples" / "pgbackrest.conf"
STANZA = "workshop"
_SETTING = re.compile(r"^# {8}(archive_\w+) = (.+)$", re.MULTILINE)


def archiver_program() -> str | None:
    return shutil.which("pgbackrest")


class Archive:
    """Base backups and what changed since, of one cluster."""

    def __init__(self, program: str, cluster: Cluster, configuration: Path) -> None:
        self.cluster = cluster
        self._command = (program, f"--config={configuration}", f"--stanza={STANZA}")

    def begin(self) -> None:
        """The settings of the example in the server, which is started again with them; then what it asks once."""
        asked = dict(_SETTING.findall(EXAMPLE.read_text()))
        asked["archive_command"] = asked["archive_command"].replace(
            f"pgbackrest --stanza={STANZA}", " ".join(self._command)
        )
        with (self.cluster.folder / "data" / "postgresql.conf").open("a") as out:
            out.writelines(f"{name} = {value}\n" for name, value in asked.items())
        self.cluster.stop("fast")
        self.cluster.start()
        self._run("stanza-create")
        self._run("check")

    def back_up(self) -> None:
        self._run("--type=full", "backup")

    def go_back(self, moment: str) -> None:
        """The stopped server's files as they were at that moment."""
        self._run("--delta", "--type=time", f"--target={moment}", "--target-action=promote", "restore")

    def _run(self, *asked: str) -> None:
        self.cluster.run(*self._command, *asked)


@contextmanager
def archived(program: str, cluster: Cluster) -> Iterator[Archive]:
    """Not under pytest's folder, which the server's user may not enter."""
    with tempfile.TemporaryDirectory(prefix="workshop-archive-", ignore_cleanup_errors=True) as folder:
        place = Path(folder)
        configuration = place / "pgbackrest.conf"
        example = configparser.ConfigParser(interpolation=None)
        example.read(EXAMPLE)
        example["global"].update({"repo1-path": f"{place}/kept", "log-path": folder, "lock-path": folder})
        example[STANZA].update({"pg1-path": str(cluster.folder / "data"), "pg1-port": str(cluster.port)})
        example[STANZA].update({"pg1-socket-path": str(cluster.folder), "pg1-user": "postgres"})
        with configuration.open("w") as out:
            example.write(out, space_around_delimiters=False)
        if os.geteuid() == 0:
            for path in (place, configuration):
                shutil.chown(path, "postgres", "postgres")
        archive = Archive(program, cluster, configuration)
        archive.begin()
        yield archive
