"""Backing the shop up: database, photos, documents and key in one file, while the shop works."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import os
import shutil
import time
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connections, models
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from workshop.running.checking import check_backup
from workshop.running.databases import database_bytes, snapshot, sqlite_file
from workshop.running.keeping import name_of
from workshop.running.manifest import (
    AUTHORITY,
    LAYOUT,
    MANIFEST,
    SECRET_KEY,
    WITH_AUTHORITY,
    BackupRefused,
    FileFacts,
    Manifest,
    TableFacts,
    file_member,
    table_member,
)
from workshop.running.rows import Digest, line_of_row, rows_of_table
from workshop.running.stored import files_place, stored_files
from workshop.running.tables import LEFT_OUT, NewerDatabase, applied_migrations, columns_of, known_nodes, models_at
from workshop.running.version import app_version
from workshop.shop_network.authority import FILE
from workshop.shop_network.served import FOLDER
from workshop.web.storage import StoreAway, file_or_none

SPARE_BYTES = 64 << 20


class BackupFailed(Exception):
    """No backup was made; the message says why. Nothing of it is left in the folder."""


@dataclass(frozen=True)
class BackupMade:
    """Where the backup is, and what it says of itself."""

    path: Path
    manifest: Manifest


def make_backup(*, folder: Path, name: str = "", why: str = "") -> BackupMade:
    """Write a backup into `folder`, read it back, and only then give it its name.

    Args:
        name: of the file; by default the time, and `why` it was made.

    Raises:
        BackupFailed: no room, no such folder, a database or a store of files that cannot be read, or a file that reads
            back differently.
    """
    now = timezone.now()
    path = folder / (name or name_of(now, why))
    for _ in range(20):  # named by the second: the second of two presses waits for its own
        if name or not path.exists():
            break
        time.sleep(0.1)
        now = timezone.now()
        path = folder / name_of(now, why)
    draft = folder / f".{path.name}.part"
    try:
        _check_there_is_a_shop()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.exists():
            raise BackupFailed(f"{path} is there already.")
        _check_room(folder)
        descriptor = os.open(draft, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(descriptor, "w+b") as out:
                with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
                    _write(archive, now)
                out.flush()
                os.fsync(out.fileno())
            manifest = check_backup(draft)
            os.rename(draft, path)
            _flush_folder(folder)
        finally:
            draft.unlink(missing_ok=True)
    except FileExistsError as error:
        raise BackupFailed(f"Another backup is being written to {folder}.") from error
    except NewerDatabase as newer:
        raise BackupFailed(f"The database cannot be backed up by this version. {newer}") from newer
    except DatabaseError as error:
        raise BackupFailed(f"The database could not be read: {error}") from error
    except BackupRefused as refused:
        raise BackupFailed(f"What was written reads back differently, and was thrown away. {refused}") from refused
    except StoreAway as away:
        raise BackupFailed(f"Photos and documents could not be read from {files_place()}. {away.words}") from away
    except OSError as error:
        raise BackupFailed(f"The backup could not be written to {folder}: {error.strerror or error}.") from error
    return BackupMade(path, manifest)


def key_fingerprint(key: str) -> str:
    """Tells whether two keys are the same, and nothing else about them."""
    return hashlib.sha256(b"fingerprint of the shop's key " + key.encode()).hexdigest()[:16]


def named_files(tables: Mapping[str, type[models.Model]]) -> set[str]:
    """Names of the files that rows name; the PDFs of an erased customer are gone on purpose."""
    names: set[str] = set()
    for label, model in tables.items():
        rows = model._base_manager.all()
        if label == "workshop.document":
            rows = rows.exclude(data__has_key="erased")
        for field in model._meta.local_concrete_fields:
            if isinstance(field, models.FileField):
                names.update(name for name in rows.values_list(field.name, flat=True) if name)
    return names


def _check_there_is_a_shop() -> None:
    """A mistyped DATA_DIR or DATABASE_URL must not give a backup of nothing, night after night."""
    live = connections["default"]
    there = live.vendor != "sqlite" or sqlite_file(live).exists()
    if not there or "workshop_shop" not in live.introspection.table_names():
        raise BackupFailed("There is no shop in this database. Look at DATA_DIR and DATABASE_URL.")


def _check_room(folder: Path) -> None:
    wanted = database_bytes(connections["default"]) + SPARE_BYTES
    with contextlib.suppress(FileNotFoundError):  # one that an erasure removes meanwhile
        wanted += sum(kept.bytes for kept in stored_files())
    free = shutil.disk_usage(folder).free
    if free < wanted:
        raise BackupFailed(
            f"There is not enough room in {folder}: the backup may take {wanted >> 20} MB, "
            f"and {free >> 20} MB are free."
        )


def _write(archive: zipfile.ZipFile, now: dt.datetime) -> None:
    with snapshot() as wrapper:
        migrations = applied_migrations(wrapper)
        loader = MigrationLoader(wrapper)
        found = models_at(loader, known_nodes(loader, migrations))
        kept = {label: model for label, model in found.items() if label not in LEFT_OUT}
        tables = {label: _write_table(archive, label, model) for label, model in kept.items()}
        # A row that names a file was written after the file, so what the snapshot names is kept by now.
        named = named_files(kept)
        vendor = wrapper.vendor
    files = dict(_write_files(archive))
    key, authority = _write_key(archive), _write_authority(archive)
    manifest = Manifest(
        made_at=now.astimezone(dt.UTC).isoformat(),
        app_version=app_version(),
        database=vendor,
        migrations=migrations,
        tables=tables,
        files=files,
        missing_files=sorted(named - set(files)),
        left_out=sorted(LEFT_OUT & set(found)),
        key_fingerprint=key_fingerprint(str(settings.SECRET_KEY)),
        key_sha256=hashlib.sha256(key).hexdigest() if key else "",
        authority_sha256=hashlib.sha256(authority).hexdigest() if authority else "",
        layout=WITH_AUTHORITY if authority else LAYOUT,
    )
    with archive.open(_member(MANIFEST), "w") as member:
        member.write(manifest.to_json())


def _write_table(archive: zipfile.ZipFile, label: str, model: type[models.Model]) -> TableFacts:
    lines, rows = hashlib.sha256(), Digest(columns_of(model))
    with archive.open(_member(table_member(label)), "w", force_zip64=True) as member:
        for row in rows_of_table(model):
            line = line_of_row(row)
            member.write(line)
            lines.update(line)
            rows.add(row)
    return TableFacts(rows.rows, lines.hexdigest(), rows.sha256)


def _write_files(archive: zipfile.ZipFile) -> Iterator[tuple[str, FileFacts]]:
    """Copy every photo and document. One that the disk does not give up is left out, and counts as missing; a bucket
    that does not answer gives no backup, for the next file may be there again. Raises StoreAway.
    """
    for kept in stored_files():
        try:
            content = _content_of(kept.name)  # a photo or a PDF: a few megabytes
        except StoreAway:
            raise
        except OSError:
            continue
        if content is None:
            continue
        with archive.open(_member(file_member(kept.name), zipfile.ZIP_STORED), "w") as member:
            member.write(content)
        yield kept.name, FileFacts(len(content), hashlib.sha256(content).hexdigest())


def _content_of(name: str) -> bytes | None:
    """None where it was removed meanwhile, as by an erasure."""
    file = file_or_none(name)
    if file is None:
        return None
    with file:
        content: bytes = file.read()
    return content


def _write_key(archive: zipfile.ZipFile) -> bytes:
    """The key goes with the shop where it is the shop's own file: without it the links in sent letters stop working.

    A key from the environment belongs to whoever set it there, and is kept there.
    """
    path = Path(settings.DATA_DIR) / "secret_key"
    if os.environ.get("SECRET_KEY") or not path.exists():
        return b""
    key = path.read_bytes()
    with archive.open(_member(SECRET_KEY), "w") as member:
        member.write(key)
    return key


def _write_authority(archive: zipfile.ZipFile) -> bytes:
    """What tablets trust goes with the shop: on another machine they go on trusting it. The rest is made anew there."""
    path = Path(settings.DATA_DIR) / FOLDER / FILE
    if not path.exists():
        return b""
    authority = path.read_bytes()
    with archive.open(_member(AUTHORITY), "w") as member:
        member.write(authority)
    return authority


def _member(name: str, compression: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)  # dated 1980: what matters is in the manifest
    info.compress_type = compression
    info.external_attr = 0o600 << 16
    return info


def _flush_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
