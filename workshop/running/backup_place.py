"""Where backups are kept: what the server's environment says, else what the owner chose, else a folder beside the data.

The choice is a file of this machine, for a shop restored elsewhere has other disks, and a restore asks it without a
database. A disk that is not connected leaves an empty folder in its place, on the disk of the data: the file remembers.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from workshop.running.backup import BackupFailed, BackupMade, make_backup


class FolderRefused(ValueError):
    """No backups can be kept there; the message says why. What was chosen before stays."""


class FolderChangedMeanwhile(Exception):
    """Another owner chose a folder meanwhile."""


@dataclass(frozen=True)
class BackupPlace:
    """The folder, whether it is on another disk than the data was when it was chosen, and who says so."""

    folder: Path
    on_another_disk: bool = False
    chosen: bool = False
    by_server: bool = False

    @property
    def is_away(self) -> bool:
        """Whether it was chosen and is not there as it was: its disk is not connected."""
        return self.chosen and (not self.folder.is_dir() or (self.on_another_disk and shares_disk(self.folder)))


def backup_place() -> BackupPlace:
    """Where the next backup goes."""
    if os.environ.get("BACKUP_DIR"):
        return BackupPlace(Path(settings.BACKUP_DIR), by_server=True)
    try:
        said = json.loads(_file().read_text())
        return BackupPlace(Path(said["folder"]), bool(said["on_another_disk"]), chosen=True)
    except FileNotFoundError:
        return BackupPlace(Path(settings.BACKUP_DIR))


def backup_folder() -> Path:
    """Raises BackupFailed where the chosen folder's disk is not connected: a backup must not fill the wrong disk."""
    place = backup_place()
    if place.is_away:
        raise BackupFailed(f"The backup folder {place.folder} is not there as it was. Is its disk connected?")
    return place.folder


def shares_disk(folder: Path) -> bool:
    """Whether the folder, or the nearest above it that is there, is on the disk of the shop's data."""
    there = next(path for path in (folder, *folder.parents) if path.exists())
    return there.stat().st_dev == Path(settings.DATA_DIR).stat().st_dev


def choose_folder(*, typed: str, seen: str) -> BackupMade:
    """Make a backup in the folder, read it back, and only then keep the choice.

    Args:
        seen: the folder that was in use when the page was opened.

    Raises:
        FolderRefused: it is no such folder, or not one for backups.
        BackupFailed: the backup could not be made or read back.
        FolderChangedMeanwhile: another was chosen since.
    """
    folder = Path(typed.strip())
    _refuse(folder)
    made = make_backup(folder=folder)
    if str(backup_place().folder) != seen:
        raise FolderChangedMeanwhile
    _keep(json.dumps({"folder": str(folder), "on_another_disk": not shares_disk(folder)}))
    return made


def _refuse(folder: Path) -> None:
    if not folder.is_absolute() or folder == folder.parent or ".." in folder.parts or not str(folder).isprintable():
        raise FolderRefused("Enter the whole path of a folder of the server, for example /mnt/backup.")
    try:
        there = folder.is_dir()
    except OSError:
        there = False
    if not there:
        raise FolderRefused("There is no such folder on the server. Connect its disk, or make the folder first.")
    data = Path(settings.DATA_DIR).resolve()
    if folder.resolve() == data or data in folder.resolve().parents:
        raise FolderRefused("That is among the shop’s data, and would be lost with them. Choose a folder elsewhere.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise FolderRefused("The server may not write there. Let the user that it runs as write into that folder.")


def _file() -> Path:
    return Path(settings.DATA_DIR) / "backup_folder.json"


def _keep(text: str) -> None:
    """Whole or not at all, and readable by its owner only."""
    descriptor, draft = tempfile.mkstemp(prefix=".backup_folder.", dir=settings.DATA_DIR)
    try:
        with os.fdopen(descriptor, "w") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, _file())
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(draft)
