"""The machine that the shop is installed on: where its things lie, and what is there already.

Only the standard library: it runs before anything is installed.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

USER = "workshop"
PYTHON = "/usr/bin/python3"
SERVICE = "workshop.service"
TIMERS = ("workshop-backup.timer", "send-reminders.timer")
UNITS = (SERVICE, "workshop-backup.service", "send-reminders.service", *TIMERS)
NOT_COPIED = frozenset(
    {".git", ".venv", ".data", ".demo", ".screens", "__pycache__", "node_modules", "htmlcov", ".coverage"}
)
ON_THE_NETWORK, ALONE = "--shop-network", "--http"  # what SERVE_OPTIONS is for tablets too, and for this machine only
_SETTINGS = """\
# Settings of the shop, read by its service, its timers and the command `workshop`; README.md has all of them.
DATA_DIR=/var/lib/workshop
BACKUP_DIR=/var/backups/workshop
# How browsers reach the shop, as options of `manage.py serve`: with --shop-network by https from the shop’s network,
# tablets too; with --http alone, from this machine only.
SERVE_OPTIONS={options}
# A second place for backups, on another disk (not under /home, which the service does not see), and the file with their
# pass phrase (mode 600, of the user workshop).
#BACKUP_COPY_DIR=/mnt/backup
#BACKUP_PASSPHRASE_FILE=/etc/workshop.passphrase
"""
COMMAND = """\
#!/bin/sh
# The shop’s own commands, as its user and with its settings: sudo workshop backup
exec /usr/bin/python3 /srv/workshop/manage.py as_service "$@"
"""


def settings_text(serve_options: str) -> str:
    """The settings of a new shop that is served with these options."""
    return _SETTINGS.format(options=serve_options)


Run = Callable[[Sequence[str], Path | None], int]


class CannotInstall(Exception):
    """Why it does not go on, and in what state the machine is."""


def run_for_real(command: Sequence[str], folder: Path | None) -> int:
    return subprocess.run(command, check=False, cwd=folder).returncode  # noqa: S603  commands of this package


@dataclass(frozen=True)
class Machine:
    """Its root folder (another than / only in tests) and what runs commands on it."""

    root: Path = Path("/")
    run: Run = run_for_real

    def at(self, path: str) -> Path:
        return self.root / path.lstrip("/")

    @property
    def code(self) -> Path:
        return self.at("/srv/workshop")

    @property
    def code_before(self) -> Path:
        return self.at("/srv/workshop.before")

    @property
    def code_new(self) -> Path:
        return self.at("/srv/workshop.new")

    @property
    def data(self) -> Path:
        return self.at("/var/lib/workshop")

    @property
    def backups(self) -> Path:
        return self.at("/var/backups/workshop")

    @property
    def settings(self) -> Path:
        return self.at("/etc/workshop.env")

    @property
    def command(self) -> Path:
        return self.at("/usr/local/bin/workshop")

    def unit(self, name: str) -> Path:
        return self.at(f"/etc/systemd/system/{name}")

    @property
    def home_of_user(self) -> str | None:
        """The home of the system user; None where there is no such user."""
        try:
            lines = self.at("/etc/passwd").read_text().splitlines()
        except OSError:
            return None
        return next((parts[5] for parts in (line.split(":") for line in lines) if parts[0] == USER), None)

    @property
    def has_systemctl(self) -> bool:
        return any(self.at(f"{folder}/systemctl").exists() for folder in ("/bin", "/usr/bin"))

    @property
    def is_booted(self) -> bool:
        """Whether systemd runs this machine, so that services can be started."""
        return self.at("/run/systemd/system").is_dir()

    def is_enabled(self, name: str) -> bool:
        target = "timers.target" if name.endswith(".timer") else "multi-user.target"
        return os.path.lexists(self.unit(f"{target}.wants/{name}"))

    def must(self, what: str, *command: str, folder: Path | None = None) -> None:
        """Run the command. Raises CannotInstall where it fails."""
        if self.run(command, folder):
            raise CannotInstall(f"{what} failed: see the lines above ({' '.join(command[:3])}).")


def files_of(folder: Path) -> Iterator[tuple[str, Path]]:
    """Name and path of every file of the code, in order; what is made while it runs is left out."""
    for top, folders, names in os.walk(folder):
        folders[:] = sorted(
            name for name in folders if name not in NOT_COPIED and not name.endswith(("_cache", ".hypothesis"))
        )
        for name in sorted(names):
            if name not in NOT_COPIED and not name.endswith(".pyc"):
                path = Path(top) / name
                yield path.relative_to(folder).as_posix(), path


def digest_of_code(folder: Path) -> str:
    """Tells whether two folders hold the same code; empty where there is none."""
    if not (folder / "manage.py").is_file():
        return ""
    whole = hashlib.sha256()
    for name, path in files_of(folder):
        whole.update(f"{name}\0{hashlib.sha256(path.read_bytes()).hexdigest()}\n".encode())
    return whole.hexdigest()


def copy_code(source: Path, target: Path) -> None:
    """Copy the code so that everybody may read it and only root change it."""
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir(parents=True)
    for name, path in files_of(source):
        there = target / name
        there.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, there)
        there.chmod(0o755 if path.stat().st_mode & 0o100 else 0o644)
    for top, _, _ in os.walk(target):
        Path(top).chmod(0o755)


def write(path: Path, content: str, mode: int) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "w") as out:
        out.write(content)
    path.chmod(mode)
