"""Opening a backup and comparing every count and digest in it with what it says of itself."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from workshop.running.manifest import (
    AUTHORITY,
    MANIFEST,
    SECRET_KEY,
    BackupRefused,
    Manifest,
    file_member,
    read_manifest,
    table_member,
)

BLOCK = 1 << 20
LONGEST_LINE = 64 << 20
_LARGEST_MANIFEST = 512 << 20
_LARGEST_KEY = 4096
_LARGEST_AUTHORITY = 64 << 10
CUT_SHORT = "It is not a backup of this app, or it was cut short or damaged on its way."


@contextmanager
def opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """The zip file and its manifest, once its members are exactly those of the manifest. Raises BackupRefused."""
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive, _manifest_of(archive)
    except OSError as error:
        raise BackupRefused(f"{path.name} cannot be read: {error.strerror or 'the disk does not answer'}.") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, OverflowError) as error:
        raise BackupRefused(CUT_SHORT) from error
    except RuntimeError as error:  # what zipfile says of a member with a password
        raise BackupRefused("Part of it is locked with a password; this app makes no such backups.") from error


def check_backup(path: Path) -> Manifest:
    """Read the whole backup; return its manifest when every table and file is as it says. Raises BackupRefused."""
    with opened(path) as (archive, manifest):
        for label, table in manifest.tables.items():
            digest, rows = hashlib.sha256(), 0
            for line in lines_of_member(archive, label):
                digest.update(line)
                rows += 1
            if (rows, digest.hexdigest()) != (table.rows, table.sha256):
                raise BackupRefused(f"The table {label} in it is not the one that was backed up.")
        for name in manifest.files:
            copy_file(archive, manifest, name, None)
        if manifest.key_sha256:
            secret_key_in(archive, manifest)
        if manifest.authority_sha256:
            authority_in(archive, manifest)
    return manifest


def lines_of_member(archive: zipfile.ZipFile, label: str) -> Iterator[bytes]:
    """The rows of a table, a line each."""
    with archive.open(table_member(label)) as member:
        while line := member.readline(LONGEST_LINE):
            if not line.endswith(b"\n"):
                raise BackupRefused(f"A row of the table {label} in it is longer than any row can be, or cut short.")
            yield line


def copy_file(archive: zipfile.ZipFile, manifest: Manifest, name: str, out: IO[bytes] | None) -> None:
    """Copy a photo or document out of the backup, or only read it. Raises BackupRefused when it is not the one."""
    facts = manifest.files[name]
    digest, size = hashlib.sha256(), 0
    with archive.open(file_member(name)) as member:
        while block := member.read(BLOCK):
            digest.update(block)
            size += len(block)
            if size > facts.bytes:
                break
            if out is not None:
                out.write(block)
    if (size, digest.hexdigest()) != (facts.bytes, facts.sha256):
        raise BackupRefused(f"The file {name} in it is not the one that was backed up.")


def secret_key_in(archive: zipfile.ZipFile, manifest: Manifest) -> bytes:
    """The shop's secret key. Raises BackupRefused when it is not the one."""
    with archive.open(SECRET_KEY) as member:
        key = member.read(_LARGEST_KEY)
    if hashlib.sha256(key).hexdigest() != manifest.key_sha256:
        raise BackupRefused("The secret key in it is not the one that was backed up.")
    return key


def authority_in(archive: zipfile.ZipFile, manifest: Manifest) -> bytes:
    """What the shop's tablets trust, with its key. Raises BackupRefused when it is not the one."""
    with archive.open(AUTHORITY) as member:
        authority = member.read(_LARGEST_AUTHORITY)
    if hashlib.sha256(authority).hexdigest() != manifest.authority_sha256:
        raise BackupRefused("The shop's authority in it is not the one that was backed up.")
    return authority


def _manifest_of(archive: zipfile.ZipFile) -> Manifest:
    infos = archive.infolist()
    names = {info.filename for info in infos}
    if MANIFEST not in names:
        raise BackupRefused(CUT_SHORT)
    if archive.getinfo(MANIFEST).file_size > _LARGEST_MANIFEST:
        raise BackupRefused("Its manifest is larger than any shop's can be.")
    manifest = read_manifest(archive.read(MANIFEST))
    if len(names) != len(infos):
        raise BackupRefused("It has two parts of the same name.")
    if names != manifest.members():
        stray = sorted(names ^ manifest.members())[0]
        raise BackupRefused(f"What is in it is not what its manifest lists, such as {stray[:80]!r}.")
    return manifest
