"""The small file in the data folder that says which shop lives here, in which database, with which secret key.

It is written once there is a shop. A database is known by the moment of its first migration: a copied or moved file
keeps it, and so does PostgreSQL's dump; a restore makes the tables anew, and notes the new moment. What several
machines share is marked along with it: files in a bucket (`files_belong.py`), and in a database that machines share
the key by its digest (`workshop/staff/shared_key.py`).
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from django.conf import settings
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder

from workshop.running.backup import key_fingerprint
from workshop.running.databases import described
from workshop.running.files_belong import FilesBelong, note_files
from workshop.staff.models import Shop
from workshop.staff.shared_key import note_shared_key
from workshop.web.storage import StoreAway

MARKER = "lives_here.json"


@dataclass(frozen=True)
class LivesHere:
    """Where the database is, the names of its shops, its first moment, and what tells its secret key from another."""

    database: str
    shops: tuple[str, ...]
    first_moment: str = ""
    key: str = ""

    @property
    def who(self) -> str:
        return " and ".join(f"“{name}”" for name in self.shops) or "A shop"


def marker_file() -> Path:
    return Path(settings.DATA_DIR) / MARKER


def who_lives_here() -> LivesHere | None:
    """What the file says; None without one. One that cannot be read says that some shop lives here."""
    try:
        known = json.loads(marker_file().read_text(encoding="utf-8"))
        shops = tuple(str(name) for name in known["shops"])
        return LivesHere(str(known["database"]), shops, str(known.get("first_moment", "")), str(known.get("key", "")))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return LivesHere("a database", ())


def note_shop(*, anew: bool = False, key: str = "") -> None:
    """Write down which shops live here, once there is one.

    Args:
        anew: this database, this key and these files are the shop's from now on, as after a restore; else those noted
            before stay.
        key: the secret key of the next start, where it is another than this process has.

    Raises:
        workshop.web.storage.StoreAway: `anew`, and the bucket of its files does not answer.
    """
    key = key or str(settings.SECRET_KEY)
    note_shared_key(key, anew=anew)  # also before there is a shop: machines may start together
    names = tuple(Shop.objects.order_by("pk").values_list("name", flat=True)[:20])
    if not names:
        return
    wrapper = connections["default"]
    before = None if anew else who_lives_here()
    try:
        note_files(FilesBelong(first_moment(wrapper), described(wrapper), names), anew=anew)
    except StoreAway:  # each start looks at it anyway
        if anew:
            raise
    _write(
        LivesHere(
            described(wrapper),
            names,
            (before and before.first_moment) or first_moment(wrapper),
            (before and before.key) or key_fingerprint(key),
        )
    )


def note_tables_made_anew() -> None:
    """After a restore, also one to an older version: the same shop, in new tables.

    Raises:
        workshop.web.storage.StoreAway: the bucket of its files does not answer any more.
    """
    before, wrapper = who_lives_here(), connections["default"]
    moment = first_moment(wrapper)
    if before is not None:
        _write(LivesHere(before.database, before.shops, moment, before.key))
    note_files(FilesBelong(moment, described(wrapper), before.shops if before else ()), anew=True)


def first_moment(wrapper: BaseDatabaseWrapper) -> str:
    """When the database's first migration was made, to the microsecond; empty where there is none."""
    rows = MigrationRecorder(wrapper).migration_qs.order_by("pk").values_list("applied", flat=True)
    when = rows.first()
    return when.isoformat() if when else ""


def _write(content: LivesHere) -> None:
    folder, place = Path(settings.DATA_DIR), marker_file()
    text = json.dumps(asdict(content), ensure_ascii=False, indent=1)
    with contextlib.suppress(OSError, ValueError):
        if place.read_text(encoding="utf-8") == text:
            return
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = folder / f".{MARKER}.{os.getpid()}"
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        out.write(text)
        out.flush()
        os.fsync(out.fileno())
    os.replace(draft, place)
