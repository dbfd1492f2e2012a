"""File storage that is on the disk before it says so."""

from __future__ import annotations

import os
from typing import Any

from django.core.files.storage import FileSystemStorage


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
