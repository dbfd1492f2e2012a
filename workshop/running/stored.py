"""The shop's files for whoever needs all of them: backup, restore, and the look whether a shop was here."""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings

from workshop.running.manifest import is_safe_name
from workshop.web.storage import KeptFile, file_store


def stored_files() -> Iterator[KeptFile]:
    """Every photo and document, wherever they are kept; marks of our own begin with a dot and are none.

    Raises workshop.web.storage.StoreAway on the way, where the store does not answer.
    """
    return (kept for kept in file_store().kept_files() if is_safe_name(kept.name))


def files_place() -> str:
    """Where they are kept, for a person."""
    return str(settings.FILES_BUCKET or settings.MEDIA_ROOT)
