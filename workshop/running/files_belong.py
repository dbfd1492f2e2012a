"""The mark in a bucket that says to which shops' database its files belong: the twin of `lives_here.py`.

A folder of files lies in the data folder, whose own mark covers it. A bucket is named by a variable, so it may be
another shop's, or a new and empty one.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from workshop.running.named_files import a_named_file
from workshop.running.stored import stored_files
from workshop.web.storage import file_or_none

FILES_MARKER = ".lives_here.json"


@dataclass(frozen=True)
class FilesBelong:
    """The first moment of the database whose files these are, where it is, and the names of its shops."""

    first_moment: str
    database: str = ""
    shops: tuple[str, ...] = ()

    @property
    def who(self) -> str:
        return " and ".join(f"“{name}”" for name in self.shops) or "a shop"


def whose_files() -> FilesBelong | None:
    """What the mark says; None without one, or without a bucket. One that cannot be read is another's.

    Raises workshop.web.storage.StoreAway.
    """
    file = file_or_none(FILES_MARKER) if settings.FILES_BUCKET else None
    if file is None:
        return None
    try:
        known = json.loads(file.read())
        shops = tuple(str(name) for name in known["shops"])
        return FilesBelong(str(known["first_moment"]), str(known["database"]), shops)
    except (ValueError, KeyError, TypeError):
        return FilesBelong("")


def _is_new() -> bool:
    """Whether there are no files yet, neither in the bucket nor named by a row. Raises StoreAway."""
    return not a_named_file() and not any(True for _ in stored_files())


def note_files(now: FilesBelong, *, anew: bool) -> None:
    """Mark the bucket's files as those of this database; the mark of before stays unless `anew`.

    One without a mark is marked only where it is new, so that no command hides that it was emptied.

    Raises workshop.web.storage.StoreAway.
    """
    if not settings.FILES_BUCKET or (before := whose_files()) == now:
        return
    if not anew and (before or not _is_new()):
        return
    if before:
        default_storage.delete(FILES_MARKER)
    kept = default_storage.save(FILES_MARKER, ContentFile(json.dumps(asdict(now), ensure_ascii=False).encode()))
    if kept != FILES_MARKER:  # another machine marked them at this very moment: theirs holds, and the next look tells
        default_storage.delete(kept)
