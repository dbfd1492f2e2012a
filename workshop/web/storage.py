"""File storage that is on the disk before it says so."""

from __future__ import annotations

import os
from typing import Any

from django.core.files.storage import FileSystemStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage


class StoreBroken(OSError):
    """The folder of photos and documents does not take a file."""


class DurableStorage(FileSystemStorage):
    """Django's file storage, which also waits until the file and its folder's entry are on the disk.

    A record that names a file is committed after the file; so a killed server leaves no record without its file.
    """

    def _save(self, name: str, content: Any) -> str:
        try:
            saved: str = super()._save(name, content)  # type: ignore[misc]
            full_path = self.path(saved)
            _flush(full_path)
            _flush(os.path.dirname(full_path))
        except OSError as error:
            raise StoreBroken(error.errno, error.strerror) from error
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
