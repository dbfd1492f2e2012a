"""`manage.py close_shop`: a suspended shop is ended for good, once everything of it stands in a file."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from workshop.management.operating import operator_named, shop_by_number
from workshop.moving.out import DESCRIPTION, everything
from workshop.running.preflight.folders import os_error_in_words
from workshop.running.shop_command import ShopCommand
from workshop.staff.models import Shop
from workshop.staff.stopped_shops import CannotStop, check_may_close, close_shop_for_good

MEANS = (
    "Nobody of it signs in any more, and no message or reminder of it leaves. Nothing is deleted: its records, photos "
    "and papers stay in this database and its folder of files, and in backups. People it has not seen for long are "
    "erased as its owner set it, and by nothing else."
)


class Command(ShopCommand):
    help = f"Close a suspended shop for good, after an export of everything of it. {MEANS}"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("number", type=int, help="of the shop, as `manage.py shops` shows it")
        parser.add_argument("--to", type=Path, required=True, help="a folder for the export: a zip file of CSV tables")
        parser.add_argument("--yes", action="store_true", help="do not ask for the shop’s name")
        parser.add_argument("--by", help="who does it, for the shop’s security log (default: this machine’s user)")

    def handle(self, *args: Any, number: int, to: Path, yes: bool, by: str | None, **options: Any) -> None:
        shop = shop_by_number(number)
        try:
            check_may_close(shop)
            if not yes:
                self._ask(shop)
            file = self._export(shop, to.absolute())
            close_shop_for_good(shop=shop, who=operator_named(by), file=file.name)
        except CannotStop as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(self.style.SUCCESS(f"{shop} is closed. {MEANS}"))

    def _ask(self, shop: Shop) -> None:
        self.stdout.write(f"{shop} is to be closed for good: that is not taken back. {MEANS}")
        try:
            typed = input("Type its name to close it: ").strip()
        except EOFError as nobody:
            raise CommandError("Nobody is there to answer: give --yes. Nothing was changed.") from nobody
        if typed != shop.name:
            raise CommandError(f"That is not “{shop.name}”. Nothing was changed.")

    def _export(self, shop: Shop, folder: Path) -> Path:
        """Everything of it on the disk, and read back; nothing is closed without."""
        file = folder / f"shop-{shop.pk}-everything-{timezone.localdate().isoformat()}.zip"
        draft = file.with_suffix(".part")
        try:
            with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
                for piece in everything(shop):
                    out.write(piece)
                out.flush()
                os.fsync(out.fileno())
            with zipfile.ZipFile(draft) as archive:
                broken, count = archive.testzip(), len(archive.namelist())
                if broken or DESCRIPTION not in archive.namelist():
                    raise CommandError(f"The export cannot be read back ({broken or DESCRIPTION}). Nothing was closed.")
            os.replace(draft, file)
        except (OSError, zipfile.BadZipFile) as error:
            said = os_error_in_words(error) if isinstance(error, OSError) else "it cannot be read back"
            raise CommandError(f"The export could not be written to {folder}: {said}. Nothing was closed.") from error
        self.stdout.write(f"{file}: {count} files, {file.stat().st_size / 1e6:.1f} MB; read back. Photos and "
                          "papers are not in it.")  # fmt: skip
        return file
