"""`manage.py backup`: the whole shop in one file, while it works."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from workshop.running.after_backup import TRIAL_EVERY, copy_to_second_place, trial_is_due, try_restore
from workshop.running.backup import BackupFailed, BackupMade, make_backup
from workshop.running.backup_place import backup_folder
from workshop.running.backups_standing import place_problem
from workshop.running.in_use import CannotBeSeen, ShopInUse, beside_others
from workshop.running.keeping import Keep, drop_old
from workshop.running.preflight.findings import Exit, Purpose
from workshop.running.preflight.folders import os_error_in_words
from workshop.running.preflight.looking import begin
from workshop.running.scheduled import (
    RunNotNeeded,
    RunUnderWay,
    Scheduled,
    note_run,
    run_once,
    went_well_elsewhere,
)
from workshop.running.whole_check import WHOLE_EVERY, check_whole, whole_check_is_due

KEPT = Keep()


class Command(BaseCommand):
    help = (
        "Back up database, photos, documents and key into one file, read it back, copy it encrypted to a second place, "
        "once a week restore it as a test, and delete what is too old."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--to",
            type=Path,
            help="a folder on another disk: an encrypted copy goes there, instead of into BACKUP_COPY_DIR; or a file "
            "whose name ends with .zip: only that is written, unencrypted, and nothing is deleted",
        )
        parser.add_argument(
            "--when-due", action="store_true", help="for a timer: not where any machine did it on this day already"
        )
        parser.add_argument("--test-restore", action="store_true", help="restore it as a test whether or not it is due")
        parser.add_argument("--days", type=int, default=KEPT.days, help="keep one a day so long (%(default)s)")
        parser.add_argument("--weeks", type=int, default=KEPT.weeks, help="keep one a week so long (%(default)s)")
        parser.add_argument("--months", type=int, default=KEPT.months, help="keep one a month so long (%(default)s)")

    def handle(self, *args: Any, days: int, weeks: int, months: int, **options: Any) -> None:
        begin(self, Purpose.BACKUP)
        try:
            with beside_others("backs it up"):  # its files would go while they are read
                self._once(Keep(days, weeks, months), **options)
        except CannotBeSeen as away:
            raise CommandError(str(away), returncode=Exit.FAILED) from away
        except ShopInUse as in_use:
            raise CommandError(f"{in_use} Nothing was backed up.", returncode=Exit.IN_USE) from in_use
        except OSError as error:  # such as a full disk under the notes of how it went, beside the data
            words = f"It broke off: {os_error_in_words(error)} ({error.filename or settings.DATA_DIR})."
            raise CommandError(f"{words} Look at the disk, and run it again.", returncode=Exit.FAILED) from error

    def _once(self, keep: Keep, **options: Any) -> None:
        """A file of somebody's own as often as he likes; what goes into the shop's folders by one process at a time."""
        to: Path | None = options["to"]
        if to and to.suffix == ".zip" and not to.is_dir():
            made = self._back_up(to.absolute().parent, to.name)
            self._say_failures(made, [] if not options["test_restore"] else self._try(made.path))
            return
        try:
            with run_once(Scheduled.BACKUP, when_due=options["when_due"]) as run:
                if run.takes_up:
                    self.stderr.write(self.style.WARNING(run.takes_up))
                self._all_of_it(run, keep, to, test_restore=options["test_restore"])
        except RunNotNeeded as elsewhere:
            if not options["when_due"]:
                raise CommandError(str(elsewhere), returncode=Exit.IN_USE) from elsewhere
            self.stdout.write(str(elsewhere))

    def _all_of_it(self, run: RunUnderWay, keep: Keep, to: Path | None, *, test_restore: bool) -> None:
        made = self._back_up(None)
        second = to or (Path(settings.BACKUP_COPY_DIR) if settings.BACKUP_COPY_DIR else None)
        copy, failures = self._copy(made.path, second.absolute()) if second else (None, [])
        if test_restore or self._trial_is_due():
            failures += self._try(copy or made.path)
        failures += self._look_through()
        for place in (made.path.parent, *([copy.parent] if copy else [])):
            for name in drop_old(place, keep, timezone.now()):
                self.stdout.write(f"Deleted {name}.")
        if problem := place_problem(timezone.now()):
            self.stderr.write(self.style.WARNING(problem))
        self._say_failures(made, failures)
        run.words = f"{made.path.name}, {made.manifest.rows} rows and {len(made.manifest.files)} files"

    def _say_failures(self, made: BackupMade, failures: list[str]) -> None:
        if failures:
            raise CommandError("\n".join([f"The backup {made.path} is whole.", *failures]))

    def _trial_is_due(self) -> bool:
        """Not where another machine restored one as a test this week."""
        now = timezone.now()
        return trial_is_due(now) and not went_well_elsewhere(Scheduled.TRIAL, within=TRIAL_EVERY, now=now)

    def _back_up(self, folder: Path | None, name: str = "") -> BackupMade:
        try:
            made = make_backup(folder=folder or backup_folder(), name=name)
        except BackupFailed as failed:
            raise CommandError(str(failed)) from failed
        self._say(made)
        return made

    def _copy(self, backup: Path, folder: Path) -> tuple[Path | None, list[str]]:
        """The copy, or what kept it from being made: the backup is there all the same, and is tried and told."""
        try:
            copy = copy_to_second_place(backup=backup, folder=folder)
        except BackupFailed as failed:
            return None, [str(failed)]
        self.stdout.write(f"{copy}: encrypted, read back and compared.")
        return copy, []

    def _try(self, backup: Path) -> list[str]:
        with note_run(Scheduled.TRIAL) as run:
            try:
                run.words = f"{try_restore(backup)} compared"
            except BackupFailed as failed:
                run.went_well, run.words = False, str(failed)
                return [str(failed)]
        self.stdout.write(f"Restored as a test, {run.words}.")
        return []

    def _look_through(self) -> list[str]:
        """Once a week, the whole database, beside the test restore; on one machine of several."""
        now = timezone.now()
        if not whole_check_is_due(now) or went_well_elsewhere(Scheduled.LOOK, within=WHOLE_EVERY, now=now):
            return []
        with note_run(Scheduled.LOOK) as run:
            wrong = check_whole()
            run.went_well, run.words = not wrong, " ".join(wrong) or "all as it should be"
        if not wrong:
            self.stdout.write("Looked through the whole database: pages, sums and search index are as they should be.")
        return wrong

    def _say(self, made: BackupMade) -> None:
        manifest = made.manifest
        self.stdout.write(
            f"{made.path}: {manifest.rows} rows of {len(manifest.tables)} tables, {len(manifest.files)} files, "
            f"{made.path.stat().st_size / 1e6:.1f} MB; read back and compared."
        )
        if not manifest.key_sha256:
            self.stdout.write("The secret key comes from the environment and is not in it: keep it yourself.")
        if manifest.missing_files:
            self.stderr.write(
                self.style.WARNING(
                    f"{len(manifest.missing_files)} photos or documents could not be read and are not in it, "
                    f"such as {manifest.missing_files[0]}. Look at the disk."
                )
            )
