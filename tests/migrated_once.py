"""The migrated database of SQLite, kept from one run to the next: migrating takes some seconds, a copy none.

What is kept has no triggers: Django finds nothing left to migrate, and the shop puts them back as they are written now.
A run with `CI` set keeps and takes nothing: it goes through every migration.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path

import django

ROOT = Path(__file__).parent.parent
APPS = ("specs", "diagnosis", "workshop")
_OURS = re.compile(rf"^\s*(?:import|from) ((?:{'|'.join(APPS)})[\w.]*)", re.MULTILINE)


def files_that_decide(root: Path = ROOT) -> list[Path]:
    """What a migrated database follows from: the migrations, and what they import."""
    migrations = [path for app in APPS for path in sorted((root / app / "migrations").glob("*.py"))]
    named = {name for path in migrations for name in _OURS.findall(path.read_text(encoding="utf-8"))}
    modules = [root / f"{name.replace('.', '/')}.py" for name in sorted(named)]
    return [*migrations, *(path for path in modules if path.is_file() and path not in migrations)]


def key_of(files: Iterable[Path], *, root: Path = ROOT) -> str:
    digest = hashlib.sha256(f"{django.__version__} {sqlite3.sqlite_version}".encode())
    for path in files:
        digest.update(f"\0{path.relative_to(root)}\0".encode() + path.read_bytes())
    return digest.hexdigest()


def kept_in(folder: Path) -> Path:
    """Where the database of today's migrations is kept, if it is."""
    return folder / f"{key_of(files_that_decide())[:32]}.sqlite3"


def put_in_place(kept: Path, database: Path) -> bool:
    """Begin with the one that is kept; False where there is none."""
    if not kept.exists():
        return False
    database.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(kept, database)
    return True


def is_migrated(database: Path) -> bool:
    """False where no test of a run asks for records: pytest-django makes no database then."""
    if not database.exists():
        return False
    with closing(sqlite3.connect(database)) as there:
        return bool(there.execute("SELECT 1 FROM sqlite_master WHERE name = 'django_migrations'").fetchall())


def keep(database: Path, kept: Path) -> None:
    """Keep a copy, whole at once for whoever runs beside; older ones go."""
    being_made = kept.with_suffix(f".{os.getpid()}")
    copy_without_triggers(database, being_made)
    being_made.replace(kept)
    for old in kept.parent.glob("*.sqlite3"):
        if old != kept:
            old.unlink(missing_ok=True)


def copy_without_triggers(database: Path, place: Path) -> None:
    """As it is now, in one file; `place` is not there yet."""
    source, copy = sqlite3.connect(database), sqlite3.connect(place, isolation_level=None)
    try:
        source.backup(copy)
        for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            copy.execute(f'DROP TRIGGER "{name}"')
        copy.execute("PRAGMA journal_mode=DELETE")
    finally:
        source.close()
        copy.close()
