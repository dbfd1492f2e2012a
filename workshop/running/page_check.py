"""Looking for damaged pages in the database: what a failing disk, a pulled cable or a bad copy leaves.

SQLite keeps no checksums. `quick_check` reads every page and finds what no longer holds together: headers, pointers,
cells out of order. `integrity_check` compares each index with its table as well, so it also finds many a changed
value. A letter that became another one in a column without an index is found by neither. PostgreSQL counts pages whose
checksum was wrong when they were read, where the cluster was made with checksums.
"""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from django.db import DatabaseError, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.databases import sqlite_file

START_WITHIN_S = 10.0  # what a start may take for it: a gigabyte on a disk without a head
_STEPS_BETWEEN_LOOKS = 20_000  # of SQLite's machine, between two looks at the clock
_TOLD = 5


@dataclass(frozen=True)
class PageCheck:
    """What was found, in SQLite's or PostgreSQL's words; `finished` is False where the time ran out before the end."""

    damage: tuple[str, ...] = ()
    finished: bool = True

    @property
    def words(self) -> str:
        return "; ".join(self.damage[:_TOLD])


def quick_check(*, within_s: float | None = START_WITHIN_S) -> PageCheck:
    """Whether the pages of the shop's database hold together. Changes nothing, safe while the shop is open."""
    return _look("quick_check", within_s)


def whole_check_of_pages() -> PageCheck:
    """The same, each index compared with its table, and every reference with what it names; takes what it takes."""
    return _look("integrity_check", None)


def _look(pragma: str, within_s: float | None) -> PageCheck:
    wrapper = connections["default"]
    if wrapper.vendor != "sqlite":
        return _checksums_that_failed(wrapper)
    if wrapper.is_in_memory_db():  # type: ignore[attr-defined]
        return PageCheck()
    return look_into_file(sqlite_file(wrapper), pragma, within_s)


def look_into_file(path: Path, pragma: str = "quick_check", within_s: float | None = None) -> PageCheck:
    """Ask SQLite about a file, over a connection of its own that cannot write."""
    give_up = None if within_s is None else time.monotonic() + within_s
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=20)) as plain:
            if give_up is not None:
                plain.set_progress_handler(lambda: int(time.monotonic() > give_up), _STEPS_BETWEEN_LOOKS)
            # The rows come as they are found, so what was found before the time ran out is kept.
            found: list[str] = []
            try:
                for (line,) in plain.execute(f"PRAGMA {pragma}({_TOLD * 4})"):
                    found += [said for said in str(line).splitlines() if said.strip() and said != "ok"]
                if pragma == "integrity_check":
                    stray = plain.execute("PRAGMA foreign_key_check").fetchmany(_TOLD)
                    found += [
                        f"a row of {table} names one of {named} that is not there" for table, _, named, _ in stray
                    ]
            except sqlite3.OperationalError as error:
                if error.sqlite_errorname != "SQLITE_INTERRUPT":
                    raise
                return PageCheck(tuple(found), finished=False)
            return PageCheck(tuple(found))
    except sqlite3.DatabaseError as error:
        if _is_damage(error):
            return PageCheck((str(error),))
        raise


def _is_damage(error: sqlite3.DatabaseError) -> bool:
    name = getattr(error, "sqlite_errorname", "") or ""
    return name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))


def _checksums_that_failed(wrapper: BaseDatabaseWrapper) -> PageCheck:
    try:
        with wrapper.cursor() as cursor:
            cursor.execute(
                "SELECT coalesce(sum(checksum_failures), 0) FROM pg_stat_database WHERE datname = current_database()"
            )
            count = int(cursor.fetchone()[0])
    except DatabaseError as error:
        return PageCheck((str(error).strip().partition("\n")[0],))
    return PageCheck((f"{count} pages had a wrong checksum when they were read",)) if count else PageCheck()
