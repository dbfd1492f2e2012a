"""Opening a backup and comparing every count and digest in it with what it says of itself."""

from __future__ import annotations

import hashlib
import io
import stat
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
from workshop.web.storage import StoreAway

BLOCK = 1 << 20
LONGEST_LINE = 64 << 20
MOST_PARTS = 1_000_000  # the list of parts is held in memory, half a kilobyte each
_LONGEST_LIST = 400 * MOST_PARTS
# Half of a manifest are digests, which no zip makes smaller.
_LARGEST_MANIFEST, _SMALL_MANIFEST, _MANIFEST_SHRINKS = 256 << 20, 8 << 20, 50
# Rows of a table, which are alike, become some twenty times smaller; photos and documents hardly.
_SMALL, _MOST_TIMES = 64 << 20, 200
_SHORTEST_ROW = len(b"{}\n")
_LARGEST_KEY = 4096
_LARGEST_AUTHORITY = 64 << 10
_PART = b"PK\x01\x02"  # what begins each entry of the list of parts
CUT_SHORT = "It is not a backup of this app, or it was cut short or damaged on its way."


@contextmanager
def opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """The zip file and its manifest, once its members are exactly those of the manifest. Raises BackupRefused."""
    try:
        with _Measured(path) as file, zipfile.ZipFile(file) as archive:
            manifest = _manifest_of(archive)
            _check_parts(archive, manifest, path.stat().st_size)
            yield archive, manifest
    except StoreAway:  # of where its files are put, which is not about the backup
        raise
    except OSError as error:
        raise BackupRefused(f"{path.name} cannot be read: {error.strerror or 'the disk does not answer'}.") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, OverflowError) as error:
        raise BackupRefused(CUT_SHORT) from error
    except RuntimeError as error:  # what zipfile says of a member with a password
        raise BackupRefused("Part of it is locked with a password; this app makes no such backups.") from error


def unpacked_bytes(archive: zipfile.ZipFile) -> int:
    """What all parts together take on a disk, as the list of parts says; no part gives more than it says there."""
    return sum(info.file_size for info in archive.infolist())


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
        raise BackupRefused("The shop’s authority in it is not the one that was backed up.")
    return authority


def _manifest_of(archive: zipfile.ZipFile) -> Manifest:
    infos = archive.infolist()
    names = {info.filename for info in infos}
    if MANIFEST not in names:
        raise BackupRefused(CUT_SHORT)
    said = archive.getinfo(MANIFEST)
    if said.file_size > min(_LARGEST_MANIFEST, _SMALL_MANIFEST + _MANIFEST_SHRINKS * said.compress_size):
        raise BackupRefused("Its manifest is larger than any shop’s can be.")
    manifest = read_manifest(archive.read(MANIFEST))
    if len(names) != len(infos):
        raise BackupRefused("It has two parts of the same name.")
    if names != manifest.members():
        stray = sorted(names ^ manifest.members())[0]
        raise BackupRefused(f"What is in it is not what its manifest lists, such as {stray[:80]!r}.")
    return manifest


class _Measured(io.FileIO):
    """A file whose list of parts is counted before zipfile makes objects of it."""

    def read(self, size: int | None = -1, /) -> bytes:
        if size is not None and size > _LONGEST_LIST:
            raise BackupRefused("It claims more parts than any shop has.")
        content = super().read(size) or b""
        if content.count(_PART) > MOST_PARTS:
            raise BackupRefused("It has more parts than any shop has.")
        return content


def _check_parts(archive: zipfile.ZipFile, manifest: Manifest, size: int) -> None:
    """By the list of parts alone, before any is unpacked: plain files, of the sizes that the manifest says, and
    together not far larger than the `size` bytes of the backup."""
    for info in archive.infolist():
        if stat.S_IFMT(info.external_attr >> 16) not in {0, stat.S_IFREG}:
            raise BackupRefused(f"A part of it, {info.filename[:80]!r}, is no plain file.")
    unpacked = unpacked_bytes(archive)
    if unpacked > _SMALL + _MOST_TIMES * size:
        raise BackupRefused(f"It would unpack to {unpacked >> 20:,} MB, far more than any backup of {size >> 10:,} KB.")
    other = "was backed up: it has another size than its manifest says."
    for label, table in manifest.tables.items():
        size = archive.getinfo(table_member(label)).file_size
        if table.rows * _SHORTEST_ROW > size or (size and not table.rows):
            raise BackupRefused(f"The table {label} in it is not the one that {other}")
    for name, file in manifest.files.items():
        if archive.getinfo(file_member(name)).file_size != file.bytes:
            raise BackupRefused(f"The file {name} in it is not the one that {other}")
