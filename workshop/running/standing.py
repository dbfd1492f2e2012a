"""How the system under the shop stands, for its owner: each fact with what to do about it, if anything."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection, connections
from django.db.models import Count, Q
from django.template.defaultfilters import filesizeformat

from workshop import pdf_libraries
from workshop.customers.privacy_models import Erasure
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.models import Message
from workshop.reminders.sending import waiting_emails
from workshop.running.checking import opened
from workshop.running.databases import database_bytes
from workshop.running.keeping import made_at
from workshop.running.logs import last_errors
from workshop.running.manifest import BackupRefused
from workshop.running.tables import open_migrations
from workshop.running.version import app_version
from workshop.searching.installing import what_is_wanting
from workshop.staff.models import Shop
from workshop.tickets.models import Photo
from workshop.tickets.whose import of_the_shop

BACKUP_EVERY = dt.timedelta(hours=36)
LEAST_FREE_BYTES = 2 * 1024**3
ERRORS_OF = dt.timedelta(hours=24)
ERRORS_SHOWN = 8
_STATES = Message.State


@dataclass(frozen=True)
class Fact:
    """Something about the system in words; `todo` says what wants doing, empty where nothing does."""

    label: str
    value: str
    note: str = ""
    todo: str = ""
    route: str = ""


@dataclass(frozen=True)
class Standing:
    """The facts, those that want something first on the page, and the last errors."""

    facts: list[Fact]
    errors: list[dict[str, Any]]

    @property
    def wanting(self) -> list[Fact]:
        return [fact for fact in self.facts if fact.todo]


def standing_of(shop: Shop, now: dt.datetime) -> Standing:
    """Everything the owner should know, in a number of queries that does not grow with the shop."""
    errors = last_errors(Path(settings.DATA_DIR) / "errors.jsonl", since=now - ERRORS_OF)
    facts = [
        _last_backup(now),
        _disk(),
        _mail(shop),
        _errors(len(errors)),
        _photo_store(shop),
        _pdf(),
        _unfinished(shop),
        _database(),
        _version(),
    ]
    return Standing(facts, errors[:ERRORS_SHOWN])


def newest_backup(folder: Path) -> Path | None:
    """The newest backup of the folder, by its name; None without one."""
    try:
        dated = [(when, path) for path in folder.iterdir() if (when := made_at(path.name)) is not None]
    except OSError:
        return None
    return max(dated)[1] if dated else None


def _last_backup(now: dt.datetime) -> Fact:
    label, every_night = "Last backup", "Set up the nightly backup: python3 manage.py backup."
    newest = newest_backup(Path(settings.BACKUP_DIR))
    when = made_at(newest.name) if newest else None
    if newest is None or when is None:
        return Fact(label, "None", todo=f"There is no backup in the backup folder. {every_night}")
    try:
        with opened(newest) as (_, manifest):
            note = f"{manifest.rows} rows and {len(manifest.files)} files, {filesizeformat(newest.stat().st_size)}"
            missing = len(manifest.missing_files)
    except (BackupRefused, OSError):
        return Fact(label, _ago(now - when), todo="It cannot be read. Make another, and look at the disk.")
    if now - when > BACKUP_EVERY:
        return Fact(label, _ago(now - when), note, f"It is too old. {every_night}")
    lost = f"{missing} photos or documents could not be read for it. Look at the disk." if missing else ""
    return Fact(label, _ago(now - when), note, lost)


def _disk() -> Fact:
    usage = shutil.disk_usage(Path(settings.DATA_DIR))
    low = usage.free < LEAST_FREE_BYTES or usage.free < 0.03 * usage.total
    return Fact(
        "Free on the disk",
        filesizeformat(usage.free),
        f"of {filesizeformat(usage.total)}",
        "Make room soon: a full disk takes no ticks and no photos." if low else "",
    )


def _mail(shop: Shop) -> Fact:
    waiting, failed = [_STATES.QUEUED, _STATES.CLAIMED, _STATES.HANDING_OVER], [_STATES.FAILED, _STATES.UNCERTAIN]
    counts = Message.objects.filter(shop=shop, state__in=[*waiting, *failed]).aggregate(
        waiting=Count("pk", filter=Q(state__in=waiting)), failed=Count("pk", filter=Q(state__in=failed))
    )
    todo = f"{counts['failed']} came back or were cut off. Look at them." if counts["failed"] else ""
    if (wanting := why_no_mail(shop)) and waiting_emails(shop).exists():
        todo = f"{wanting} {todo}".strip()
    return Fact("Mail waiting", str(counts["waiting"]), "reminders not sent yet", todo, "office:reminders_outbox")


def _errors(count: int) -> Fact:
    todo = "Tell whoever looks after the shop's computer; the list is below." if count else ""
    return Fact("Errors", str(count), "in the last 24 hours", todo)


def _photo_store(shop: Shop) -> Fact:
    label, root = "Photos and documents", Path(settings.MEDIA_ROOT)
    newest = Photo.objects.filter(of_the_shop(shop)).order_by("-pk").values_list("file", flat=True).first()
    folder = next(path for path in (root, *root.parents) if path.exists())
    if not os.access(folder, os.W_OK):
        return Fact(label, "Closed", todo="Their folder cannot be written: photos and papers cannot be kept.")
    if newest and not (root / newest).is_file():
        return Fact(label, "Missing", todo="The newest photo is not where it was kept. Look at the disk, or restore.")
    return Fact(label, "Open")


def _pdf() -> Fact:
    missing = pdf_libraries.missing_packages()
    if missing:
        return Fact("PDFs", "Cannot be made", todo=f"Install on the server: {' '.join(missing)}")
    return Fact("PDFs", "Can be made")


def _unfinished(shop: Shop) -> Fact:
    """What a process began and did not end: files of erased customers that are still on the disk."""
    count = Erasure.objects.of_shop(shop).exclude(files_to_remove=[]).count()
    todo = "Files of erased customers are still on the disk. Run python3 manage.py send_reminders." if count else ""
    return Fact("Jobs not finished", str(count), todo=todo)


def _database() -> Fact:
    name = "PostgreSQL" if connection.vendor == "postgresql" else "SQLite"
    return Fact("Database", name, filesizeformat(database_bytes(connections["default"])), what_is_wanting())


def _version() -> Fact:
    try:
        waiting = len(open_migrations(connections["default"]))
    except DatabaseError:
        waiting = 0
    todo = f"{waiting} migrations are open. Run python3 manage.py upgrade." if waiting else ""
    return Fact("Version", app_version(), "of this app", todo)


def _ago(age: dt.timedelta) -> str:
    hours = max(0, round(age.total_seconds() / 3600))
    if hours < 1:
        return "Just now"
    if hours < 48:
        return f"{hours} hour{'' if hours == 1 else 's'} ago"
    return f"{hours // 24} days ago"
