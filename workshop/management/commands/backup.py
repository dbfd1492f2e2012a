"""`manage.py backup`: the whole shop in one file, while it works."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from workshop.running.backup import BackupFailed, make_backup
from workshop.running.keeping import Keep, drop_old

KEPT = Keep()


class Command(BaseCommand):
    help = "Back up database, photos, documents and key into one file, read it back, and drop what is too old."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--to", type=Path, help="write this file instead, and drop none")
        parser.add_argument("--days", type=int, default=KEPT.days, help="keep one a day so long (%(default)s)")
        parser.add_argument("--weeks", type=int, default=KEPT.weeks, help="keep one a week so long (%(default)s)")
        parser.add_argument("--months", type=int, default=KEPT.months, help="keep one a month so long (%(default)s)")

    def handle(self, *args: Any, days: int, weeks: int, months: int, **options: Any) -> None:
        to: Path | None = options["to"]
        folder = to.absolute().parent if to else Path(settings.BACKUP_DIR)
        try:
            made = make_backup(folder=folder, name=to.name if to else "")
        except BackupFailed as failed:
            raise CommandError(str(failed)) from failed
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
        if to is None:
            for name in drop_old(folder, Keep(days, weeks, months), timezone.now()):
                self.stdout.write(f"Dropped {name}.")
