"""`manage.py restore FILE`: the shop of a backup, in this database, SQLite or PostgreSQL."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError

from workshop.customers.models import Customer
from workshop.customers.privacy_models import Erasure
from workshop.reminders.models import Message
from workshop.running.backup import BackupFailed, key_fingerprint, make_backup
from workshop.running.backup_place import backup_folder
from workshop.running.checking import check_backup
from workshop.running.in_use import ShopInUse, shop_to_oneself
from workshop.running.lives_here import note_shop
from workshop.running.manifest import BackupRefused, Manifest
from workshop.running.preflight.findings import Exit, Purpose
from workshop.running.preflight.looking import begin
from workshop.running.restore import ShopThere, key_from_now_on, restore_alone, shop_is_empty
from workshop.running.second_place import newest_backup, plain_backup
from workshop.running.stored import files_place
from workshop.web.storage import StoreAway


class Command(BaseCommand):
    help = "Restore a backup. With DATABASE_URL set to the other kind of database, this moves the shop there."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a backup, encrypted or not; of a folder, the newest in it")
        parser.add_argument("--check", action="store_true", help="only read it through and say what is in it")
        parser.add_argument("--replace", action="store_true", help="replace the shop on this machine with the backup")
        parser.add_argument(
            "--without-backup", action="store_true", help="with --replace: do not back up the shop that is here first"
        )

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        begin(self, Purpose.RESTORE, after="Nothing was changed.")
        if file.is_dir():
            newest = newest_backup(file)
            if newest is None:
                raise CommandError(f"There is no backup in {file}. Nothing was changed.")
            self.stdout.write(f"The newest backup in {file} is {newest.name}.")
            file = newest
        try:
            with plain_backup(file) as backup:
                self._restore(backup, **options)
        except BackupRefused as refused:
            raise CommandError(f"{file.name} is not restored. {refused} Nothing was changed.") from refused

    def _restore(self, file: Path, *, check: bool, replace: bool, **options: Any) -> None:
        try:
            if check:
                self._say(check_backup(file), "is whole")
                return
            with shop_to_oneself("restores it"):
                check_backup(file)  # before anything is made for it
                if replace and not options["without_backup"] and not shop_is_empty():
                    kept = make_backup(folder=backup_folder(), why="restore")
                    self.stdout.write(f"The shop that is here was backed up first: {kept.path}")
                erased = _erased_customers() if replace else set()
                manifest = restore_alone(file, replace=replace, bring_up_to_date=True)
        except BackupFailed as failed:
            raise CommandError(
                f"The shop that is here could not be backed up first: {failed} Nothing was changed. "
                "If it is broken for good, say --without-backup."
            ) from failed
        except ShopInUse as in_use:
            raise CommandError(f"{in_use} Nothing was changed.", returncode=Exit.IN_USE) from in_use
        except ShopThere as reason:
            raise CommandError(f"{reason} Nothing was changed.") from reason
        except StoreAway as away:
            raise CommandError(
                f"The shop of the backup is in its place with all its files, and {files_place()} does not answer any "
                f"more, so files of the shop before may be left there. {away.words} Once it answers: python3 manage.py "
                "check_shop --accept"
            ) from away
        note_shop(anew=True, key=key_from_now_on())
        self._say(manifest, "is restored, every row and file compared")
        self._say_what_to_see_to(manifest, erased)

    def _say(self, manifest: Manifest, what: str) -> None:
        self.stdout.write(
            f"The shop of {manifest.made_at[:16].replace('T', ' ')} UTC {what}: {manifest.rows} rows of "
            f"{len(manifest.tables)} tables, {len(manifest.files)} files (version {manifest.app_version}, "
            f"{manifest.database})."
        )
        if manifest.missing_files:
            self.stderr.write(f"{len(manifest.missing_files)} photos or documents were lost before it was made.")

    def _say_what_to_see_to(self, manifest: Manifest, erased: set[int]) -> None:
        if not manifest.key_sha256 and manifest.key_fingerprint != key_fingerprint(str(settings.SECRET_KEY)):
            self.stderr.write(
                "This machine has another secret key than the shop had: the links for stopping reminders in letters "
                "sent so far do not work until SECRET_KEY is the old one."
            )
        waiting = Message.objects.filter(state=Message.State.QUEUED).count()
        if waiting:
            self.stderr.write(
                f"{waiting} reminders wait in it and may have gone out since it was made. Look at Office, Reminders, "
                "before they are sent."
            )
        again = Customer.objects.filter(pk__in=erased, erasure__isnull=True).count()
        if again:
            self.stderr.write(f"{again} customers erased since it was made are back with it: erase them again.")
        self.stdout.write("Everybody signs in again.")


def _erased_customers() -> set[int]:
    """Customers erased in the shop that is here, as far as it can be read."""
    if shop_is_empty():
        return set()
    try:
        return set(Erasure.objects.values_list("customer_id", flat=True))
    except DatabaseError:
        return set()
