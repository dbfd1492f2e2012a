"""Two people at one record: the second save is refused with what happened meanwhile, never silently done."""

from __future__ import annotations

from typing import TypeVar

from django.db import models

Record = TypeVar("Record", bound=models.Model)


class StaleVersion(Exception):
    """The record was changed by someone else after it was opened."""

    def __init__(self, record: models.Model) -> None:
        super().__init__(f"{record} was changed meanwhile.")
        self.record = record


def take_version(record: Record, seen_version: int) -> Record:
    """Claim the right to change `record`: advance its version, or raise StaleVersion.

    Call it first inside the transaction that writes. The claim is one conditional UPDATE, so of two
    writers at once exactly one gets it, on SQLite and on PostgreSQL alike.
    """
    manager = type(record)._default_manager
    claimed = manager.filter(pk=record.pk, version=seen_version).update(version=models.F("version") + 1)
    if not claimed:
        record.refresh_from_db()
        raise StaleVersion(record)
    record.version = seen_version + 1  # type: ignore[attr-defined]
    return record
