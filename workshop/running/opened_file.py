"""Whether the SQLite file that this server opened is still the one under its name.

A file that was moved or replaced goes on taking writes through whoever has it open, and they are lost to the shop.
The server's first process hands the file's numbers (device and inode) to its workers, so that a worker started later
does not take another file for the shop's.
"""

from __future__ import annotations

import os
from pathlib import Path

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.databases import sqlite_file

VARIABLE = "SHOP_FILE"
_seen: dict[Path, str] = {}


def numbers_of(path: Path) -> str:
    """Device and inode of a file, as one word; empty where there is none."""
    try:
        facts = path.stat()
    except OSError:
        return ""
    return f"{facts.st_dev}:{facts.st_ino}"


def file_went_away() -> bool:
    """Whether the database's file is another one than was opened, or gone, or its journal is."""
    wrapper = connections["default"]
    if wrapper.vendor != "sqlite" or wrapper.is_in_memory_db():  # type: ignore[attr-defined]
        return False
    main = sqlite_file(wrapper)
    there = numbers_of(main)
    expected = os.environ.get(VARIABLE) or _seen.get(main)
    if expected is None:
        _seen[main] = expected = there
    return not there or there != expected or _lost_its_journal(wrapper, main)


def _lost_its_journal(wrapper: BaseDatabaseWrapper, main: Path) -> bool:
    """In WAL the journal is there as long as anybody has the database open; a commit into a removed one is lost."""
    return wrapper.connection is not None and not any(
        main.with_name(f"{main.name}{end}").exists() for end in ("-wal", "-journal")
    )
