"""Where photos, documents and other files are kept: a folder whose files are on the disk before it says so.

Files are reached only through the storage, so that a bucket can stand in the folder's place (`bucket_storage.py`).
"""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, cast

from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, default_storage
from whitenoise.storage import CompressedManifestStaticFilesStorage

TRIED = ".tried"  # no file of the shop begins with a dot
_BLOCK = 1 << 20


class StoreBroken(OSError):
    """The folder of photos and documents does not take a file."""


class StoreAway(StoreBroken):
    """The store of photos and documents does not answer, or refuses; `words` say which."""

    def __init__(self, words: str) -> None:
        super().__init__(words)
        self.words = words


@dataclass(frozen=True)
class KeptFile:
    """A file of the store, named as rows name it, and its size."""

    name: str
    bytes: int


class FileStore(Protocol):
    """What a storage of the shop's files can do beside Django's own; any of it may raise StoreAway."""

    def kept_files(self) -> Iterator[KeptFile]:
        """Every file, whatever its name, in no order that counts. Links are not followed."""

    def sha256_of(self, name: str) -> str:
        """In hexadecimal; empty where there is no such file."""

    def put_in_place(self, staged: Path, name: str) -> None:
        """Give a file that was written aside its name, instead of whatever has that name."""

    def settle(self, names: Iterable[str]) -> None:
        """Wait until that is so for good."""

    def try_out(self) -> None:
        """Keep a file, and take it away at once."""


def file_store() -> FileStore:
    """The default storage, by what it can do beside Django's own."""
    return cast(FileStore, default_storage)


def file_or_none(name: str | None) -> File[bytes] | None:
    """The stored file, to be closed by who asks; None where it is lost or there is no name. Raises StoreAway."""
    try:
        return default_storage.open(name) if name else None
    except FileNotFoundError:
        return None


class DurableStorage(FileSystemStorage):
    """Django's file storage, which also waits until the file and its folder's entry are on the disk.

    A record that names a file is committed after the file; so a killed server leaves no record without its file.
    """

    def kept_files(self) -> Iterator[KeptFile]:
        root = Path(self.location)
        for folder, folders, names in os.walk(root):
            folders.sort()
            for name in sorted(names):
                path = Path(folder) / name
                if path.is_file() and not path.is_symlink():
                    yield KeptFile(path.relative_to(root).as_posix(), path.stat().st_size)

    def sha256_of(self, name: str) -> str:
        path = Path(self.location) / name
        if not path.is_file() or path.is_symlink():
            return ""
        digest = hashlib.sha256()
        with path.open("rb") as file:
            while block := file.read(_BLOCK):
                digest.update(block)
        return digest.hexdigest()

    def put_in_place(self, staged: Path, name: str) -> None:
        target = Path(self.location) / name
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.replace(staged, target)

    def settle(self, names: Iterable[str]) -> None:
        root = Path(self.location)
        for folder in {(root / name).parent for name in names} | {root}:
            if folder.exists():
                _flush(str(folder))

    def try_out(self) -> None:
        self.delete(self.save(TRIED, ContentFile(b"")))

    def _save(self, name: str, content: Any) -> str:
        try:
            saved: str = super()._save(name, content)  # type: ignore[misc]
            full_path = self.path(saved)
            _flush(full_path)
            _flush(os.path.dirname(full_path))
        except OSError as error:
            number = error.errno or errno.EEXIST  # Django gives none to a file that stands in a folder's place
            raise StoreBroken(number, os.strerror(number)) from error
        return saved


def _flush(path: str) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


class RememberedStaticFilesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # it comes without types
    """Static files under names that change with what is in them. A page names some thirty: each is worked out once."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._urls: dict[tuple[str, bool], str] = {}

    def url(self, name: str, force: bool = False) -> str:
        if (name, force) not in self._urls:
            self._urls[name, force] = super().url(name, force)
        return self._urls[name, force]
