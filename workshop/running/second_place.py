"""A second place for backups: an encrypted copy on another disk, or in a folder that something takes elsewhere."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings

from workshop.running.backup import SPARE_BYTES, BackupFailed
from workshop.running.checking import BLOCK
from workshop.running.encrypted import decrypted, encrypt, encrypted_bytes, is_encrypted
from workshop.running.keeping import made_at
from workshop.running.manifest import BackupRefused
from workshop.running.pass_phrase import NoPassPhrase, pass_phrase

ENDING = ".encrypted"
SCRATCH = ".opened-backup-"


def newest_backup(folder: Path) -> Path | None:
    """The newest backup of the folder, by its name; None without one."""
    try:
        dated = [(when, path) for path in folder.iterdir() if (when := made_at(path.name)) is not None]
    except OSError:
        return None
    return max(dated)[1] if dated else None


def copy_encrypted(backup: Path, folder: Path, *, phrase: str) -> Path:
    """Write the backup encrypted into `folder`, read it back and compare, and only then give it its name.

    Raises BackupFailed; nothing of the copy is left then. The backup itself stays.
    """
    path = folder / f"{backup.name}{ENDING}"
    draft = folder / f".{path.name}.part"
    if not folder.is_dir():
        raise BackupFailed(f"The second place {folder} is not there. Is the disk plugged in, or the name mistyped?")
    if folder.samefile(backup.parent):
        raise BackupFailed("The second place is the backup folder itself. Take another.")
    try:
        _check_room(folder, backup)
        if path.exists():
            raise BackupFailed(f"{path} is there already.")
        descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(descriptor, "wb") as out, backup.open("rb") as source:
                encrypt(source, backup.stat().st_size, out, pass_phrase=phrase)
                out.flush()
                os.fsync(out.fileno())
                os.posix_fadvise(out.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)  # read back from the disk itself
            _compare(draft, backup, phrase)
            os.rename(draft, path)
            _flush_folder(folder)
        finally:
            draft.unlink(missing_ok=True)
    except FileExistsError as error:
        raise BackupFailed(f"Another backup is being copied to {folder}.") from error
    except BackupRefused as refused:
        raise BackupFailed(f"The copy reads back differently, and was thrown away. {refused}") from refused
    except OSError as error:
        raise BackupFailed(f"The copy could not be written to {folder}: {error.strerror or error}.") from error
    return path


@contextmanager
def plain_backup(path: Path) -> Iterator[Path]:
    """The backup to read from: the file itself, or for one that is encrypted what is in it, for a while and aside.

    Raises BackupRefused: it cannot be read, or the pass phrase is another or not to be had.
    """
    if not _begins_encrypted(path):
        yield path
        return
    try:
        phrase = pass_phrase(for_new=False)
    except NoPassPhrase as reason:
        raise BackupRefused(f"It is encrypted. {reason}") from reason
    folder = Path(settings.DATA_DIR)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    drop_scratch(folder, SCRATCH)
    with TemporaryDirectory(prefix=SCRATCH, dir=folder) as scratch:
        opened = Path(scratch) / path.name.removesuffix(ENDING)
        _decrypt(path, opened, phrase)
        yield opened


def drop_scratch(folder: Path, prefix: str) -> None:
    """Remove what a killed process left open there."""
    for left in folder.glob(f"{prefix}*"):
        shutil.rmtree(left, ignore_errors=True)


def on_the_same_disk(one: Path, other: Path) -> bool:
    """Whether both folders lie on one file system, as far as this machine knows; the next folder that is there asks."""
    return _device(one) == _device(other)


def _device(path: Path) -> int:
    return next(folder for folder in (path.absolute(), *path.absolute().parents) if folder.exists()).stat().st_dev


def _begins_encrypted(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return is_encrypted(file.read(64))
    except OSError as error:
        raise BackupRefused(f"{path.name} cannot be read: {error.strerror}.") from error


def _decrypt(path: Path, target: Path, phrase: str) -> None:
    try:
        descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as out, path.open("rb") as source:
            for chunk in decrypted(source, pass_phrase=phrase):
                out.write(chunk)
    except OSError as error:
        raise BackupRefused(f"{path.name} could not be decrypted: {error.strerror or error}.") from error


def _compare(copy: Path, backup: Path, phrase: str) -> None:
    inside, outside = hashlib.sha256(), hashlib.sha256()
    with copy.open("rb") as source:
        for chunk in decrypted(source, pass_phrase=phrase):
            inside.update(chunk)
    with backup.open("rb") as original:
        while block := original.read(BLOCK):
            outside.update(block)
    if inside.digest() != outside.digest():
        raise BackupRefused("It is not what was backed up.")


def _check_room(folder: Path, backup: Path) -> None:
    wanted, free = encrypted_bytes(backup.stat().st_size) + SPARE_BYTES, shutil.disk_usage(folder).free
    if free < wanted:
        raise BackupFailed(
            f"There is not enough room in {folder}: the copy takes {wanted >> 20} MB, and {free >> 20} MB are free."
        )


def _flush_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # not every disk that is plugged in can
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
