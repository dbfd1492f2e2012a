"""Restoring a backup: all of it, or nothing changed.

Everything is read, loaded and compared aside first. Files that are not there yet are then put in their place, where
nothing names them; the database follows in one step, a rename (SQLite) or a commit (PostgreSQL); last, files that the
backup does not have are removed. Cut off at any moment, the shop is wholly the old one or wholly the new one.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.files.storage import default_storage
from django.db import DatabaseError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.backup import SPARE_BYTES
from workshop.running.backup_record import forget_checks
from workshop.running.checking import (
    authority_in,
    check_backup,
    copy_file,
    opened,
    secret_key_in,
    unpacked_bytes,
)
from workshop.running.databases import at_file, default_is, sqlite_file, take_statistics
from workshop.running.in_use import ShopInUse
from workshop.running.lives_here import note_tables_made_anew
from workshop.running.loading import drop_tables, load_tables
from workshop.running.manifest import BackupRefused, Manifest
from workshop.running.stored import files_place, stored_files
from workshop.running.tables import NewerDatabase
from workshop.secret import write_anew
from workshop.shop_network.authority import FILE
from workshop.shop_network.served import FOLDER
from workshop.web.storage import StoreAway, file_store

LOCK_TIMEOUT = "10s"


class ShopThere(Exception):
    """There is a shop already, and nobody said to replace it."""

    def __init__(self) -> None:
        super().__init__("There is a shop here already. It stays untouched unless you say --replace.")


def restore_alone(path: Path, *, replace: bool, bring_up_to_date: bool) -> Manifest:
    """Put the shop of a backup in the place of this one; return what it says of itself. Inside `shop_to_oneself`.

    Args:
        replace: take a shop that is there away for it.
        bring_up_to_date: False leaves the database at the migrations of the backup, for the code that goes with them.

    Raises:
        BackupRefused: the file cannot be trusted or used; nothing was changed.
        ShopThere: there is a shop, and `replace` is not said.
    """
    manifest = check_backup(path)
    if not replace and not shop_is_empty():
        raise ShopThere
    _check_room(path)
    live = connections["default"]
    live.close()
    database = _new_sqlite if live.vendor == "sqlite" else _same_postgresql
    try:
        with opened(path) as (archive, _), staged_files(archive, manifest) as stage:
            with database(live) as wrapper:
                load_tables(wrapper, archive, manifest, bring_up_to_date=bring_up_to_date)
                put_files(stage, manifest)
            key = secret_key_in(archive, manifest) if manifest.key_sha256 else b""
            authority = authority_in(archive, manifest) if manifest.authority_sha256 else b""
    except NewerDatabase as newer:
        raise BackupRefused(f"{newer} Install that version ({manifest.app_version}) first.") from newer
    except StoreAway as away:
        raise BackupRefused(f"Its files could not be put into {files_place()}. {away.words}") from away
    _put_key(key)
    if authority:  # else that of this machine stays: its tablets trust it
        write_anew(Path(settings.DATA_DIR) / FOLDER / FILE, authority)
    _drop_other_files(manifest)
    note_tables_made_anew()
    forget_checks()
    ContentType.objects.clear_cache()
    return manifest


def shop_is_empty() -> bool:
    """Whether there is neither a shop in the database nor a file where files are kept."""
    connection = connections["default"]
    try:
        if any(True for _ in stored_files()):
            return False
    except StoreAway:
        return False  # something may be there, even if it cannot be seen
    if connection.vendor == "sqlite" and not sqlite_file(connection).exists():
        return True
    try:
        with connection.cursor() as cursor:
            if "workshop_shop" not in connection.introspection.table_names(cursor):
                return True
            cursor.execute("SELECT EXISTS (SELECT 1 FROM workshop_shop), EXISTS (SELECT 1 FROM workshop_user)")
            return not any(cursor.fetchone())
    except DatabaseError:
        return False  # something is there, even if it cannot be read


@contextmanager
def _new_sqlite(live: BaseDatabaseWrapper) -> Iterator[BaseDatabaseWrapper]:
    """A new file beside the shop's; it takes the shop's name when everything in the block went well."""
    place = sqlite_file(live)
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = place.with_name(f"{place.name}.restoring")
    _remove_sqlite(draft)
    os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    try:
        with default_is(at_file(draft)) as wrapper:
            yield wrapper
            with wrapper.cursor() as cursor:
                cursor.execute("PRAGMA journal_mode=DELETE")  # everything is in the one file now
        _make_alone(place)
        _flush(draft)
        os.replace(draft, place)
        _flush(place.parent)
    finally:
        _remove_sqlite(draft)


@contextmanager
def _same_postgresql(live: BaseDatabaseWrapper) -> Iterator[BaseDatabaseWrapper]:
    """The shop's own database, in one transaction."""
    with default_is(live.copy()) as wrapper, transaction.atomic():
        with wrapper.cursor() as cursor:
            cursor.execute("SELECT set_config('lock_timeout', %s, true)", [LOCK_TIMEOUT])
        try:
            drop_tables(wrapper)
        except DatabaseError as error:
            raise ShopInUse from error
        yield wrapper
        take_statistics()


def _make_alone(place: Path) -> None:
    """Fold the old database's journal into it, which only works while nobody else has it open."""
    if not place.exists():
        _remove_sqlite(place)  # a journal without its database
        return
    old = sqlite3.connect(place, timeout=1)
    try:
        mode = old.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    except sqlite3.OperationalError as error:
        if error.sqlite_errorname.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise ShopInUse from error
        _set_aside(place)
    except sqlite3.DatabaseError:
        _set_aside(place)
    else:
        if mode != "delete":
            raise ShopInUse
    finally:
        old.close()


def _set_aside(place: Path) -> None:
    """Keep a database that SQLite cannot read, with its journal: somebody may want to look."""
    for part in (place, *(place.with_name(f"{place.name}{end}") for end in ("-wal", "-shm"))):
        if part.exists():
            os.replace(part, part.with_name(part.name.replace(place.name, f"{place.name}.unreadable")))


def _remove_sqlite(path: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        path.with_name(f"{path.name}{end}").unlink(missing_ok=True)


@contextmanager
def staged_files(archive: zipfile.ZipFile, manifest: Manifest) -> Iterator[Path]:
    """The backup's files in a folder beside the shop's own, each compared with its digest and on the disk."""
    root = Path(settings.MEDIA_ROOT)
    stage = root.with_name(f".{root.name}.restoring")
    shutil.rmtree(stage, ignore_errors=True)
    stage.mkdir(mode=0o700, parents=True)
    try:
        for name in manifest.files:
            target = stage / name
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, 0o600)
            with os.fdopen(descriptor, "wb") as out:
                copy_file(archive, manifest, name, out)
                out.flush()
                os.fsync(out.fileno())
        yield stage
    except FileExistsError as error:
        raise BackupRefused("Two files in it have names that this disk takes for the same.") from error
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def put_files(stage: Path, manifest: Manifest) -> None:
    """Give the staged files their place. Names hold digests, so one that is there is the same or is damaged."""
    store = file_store()
    for name, facts in manifest.files.items():
        if store.sha256_of(name) != facts.sha256:
            store.put_in_place(stage / name, name)
    store.settle(manifest.files)


def _drop_other_files(manifest: Manifest) -> None:
    for kept in list(stored_files()):
        if kept.name not in manifest.files:
            default_storage.delete(kept.name)


def key_from_now_on() -> str:
    """The secret key that the next start of the shop reads: a restore may have put another in its place."""
    if given := os.environ.get("SECRET_KEY"):
        return given
    place = Path(settings.DATA_DIR) / "secret_key"
    return place.read_text().strip() if place.exists() else str(settings.SECRET_KEY)


def _put_key(key: bytes) -> None:
    """The key of the backup, unless the environment sets one."""
    place = Path(settings.DATA_DIR) / "secret_key"
    if not key or os.environ.get("SECRET_KEY") or (place.exists() and place.read_bytes() == key):
        return
    draft = place.with_name(".secret_key.restoring")
    draft.unlink(missing_ok=True)
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(key)
        out.flush()
        os.fsync(out.fileno())
    os.replace(draft, place)
    _flush(place.parent)


def _check_room(path: Path) -> None:
    """Before anything is unpacked: rows take room as well as files."""
    root = Path(settings.MEDIA_ROOT).parent
    root.mkdir(mode=0o700, parents=True, exist_ok=True)
    with opened(path) as (archive, _):
        wanted, free = unpacked_bytes(archive) + SPARE_BYTES, shutil.disk_usage(root).free
    if free < wanted:
        raise BackupRefused(f"There is not enough room for it: {wanted >> 20} MB are needed, {free >> 20} MB are free.")


def _flush(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
