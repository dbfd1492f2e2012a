"""A backup restored as a test: into a scratch folder and a database of its own, every row and file compared."""

from __future__ import annotations

import hashlib
import shutil
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.backup import SPARE_BYTES
from workshop.running.checking import BLOCK, check_backup, copy_file, opened
from workshop.running.databases import default_is
from workshop.running.loading import load_tables
from workshop.running.manifest import BackupRefused, Manifest
from workshop.running.second_place import drop_scratch, plain_backup
from workshop.running.tables import NewerDatabase

SCRATCH = ".test-restore-"


def restore_as_a_test(path: Path) -> Manifest:
    """Restore the backup, encrypted or not, where nobody works; return what it says of itself. Nothing of it stays.

    The scratch database is SQLite whatever the shop's is: what is compared is the same for both.

    Raises BackupRefused: it could not be restored; the message says why.
    """
    folder = Path(settings.DATA_DIR)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    drop_scratch(folder, SCRATCH)
    with plain_backup(path) as backup, TemporaryDirectory(prefix=SCRATCH, dir=folder) as scratch:
        manifest = check_backup(backup)
        _check_room(folder, backup, manifest)
        try:
            with opened(backup) as (archive, _):
                with default_is(_scratch_database(Path(scratch) / "shop.sqlite3")) as wrapper:
                    ContentType.objects.clear_cache()
                    load_tables(wrapper, archive, manifest, bring_up_to_date=False)
                for name in manifest.files:
                    _restore_file(archive, manifest, name, Path(scratch) / "file")
        except NewerDatabase as newer:
            raise BackupRefused(str(newer)) from newer
        finally:
            ContentType.objects.clear_cache()
    return manifest


def _restore_file(archive: zipfile.ZipFile, manifest: Manifest, name: str, place: Path) -> None:
    with place.open("wb") as out:
        copy_file(archive, manifest, name, out)
    digest = hashlib.sha256()
    with place.open("rb") as restored:
        while block := restored.read(BLOCK):
            digest.update(block)
    if digest.hexdigest() != manifest.files[name].sha256:
        raise BackupRefused(f"The file {name} reads back differently from this disk.")


def _check_room(folder: Path, backup: Path, manifest: Manifest) -> None:
    with zipfile.ZipFile(backup) as archive:
        rows = sum(info.file_size for info in archive.infolist() if info.filename.startswith("tables/"))
    largest = max((file.bytes for file in manifest.files.values()), default=0)
    wanted, free = 2 * rows + largest + SPARE_BYTES, shutil.disk_usage(folder).free
    if free < wanted:
        raise BackupRefused(f"There is not enough room to test it: {wanted >> 20} MB, and {free >> 20} MB are free.")


def _scratch_database(path: Path) -> BaseDatabaseWrapper:
    from django.db.backends.sqlite3.base import DatabaseWrapper

    template = connections["default"].copy().settings_dict
    # Thrown away at once: nothing has to outlast a power cut.
    options = {"init_command": "PRAGMA journal_mode=MEMORY; PRAGMA synchronous=OFF; PRAGMA foreign_keys=ON;"}
    return DatabaseWrapper({**template, "ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "OPTIONS": options})
