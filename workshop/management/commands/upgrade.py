"""`manage.py upgrade`: after new code was put in place, everything else, with a backup first."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from workshop.running.in_use import ShopInUse
from workshop.running.lives_here import note_shop
from workshop.running.preflight.findings import Exit, Purpose
from workshop.running.preflight.looking import AFTERWARDS, begin, look, say_findings
from workshop.running.upgrading import UpgradeFailed, steps, undo_upgrade, upgrade
from workshop.running.version import app_version


class Command(BaseCommand):
    help = (
        "Stop the server and put the new code in place; then this installs what it needs, backs the shop up, migrates, "
        "collects static files and checks. If a step fails, the shop is put back as it was."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--back",
            action="store_true",
            help="before the code of before is put in place: the shop as it was before the last upgrade",
        )

    def handle(self, *args: Any, back: bool, **options: Any) -> None:
        try:
            begin(self, Purpose.RESTORE if back else Purpose.UPGRADE, after="Nothing was changed.")
            if back:
                self._go_back()
                return
            upgrade(say=self.stdout.write, steps=steps())
        except ShopInUse as in_use:
            raise CommandError(f"{in_use} Nothing was changed.", returncode=Exit.IN_USE) from in_use
        except UpgradeFailed as failed:
            raise CommandError(str(failed)) from failed
        note_shop()
        say_findings(self, look(Purpose.UPGRADE, AFTERWARDS))
        self.stdout.write(self.style.SUCCESS(f"The shop is at version {app_version()}. Start the server."))

    def _go_back(self) -> None:
        manifest = undo_upgrade(say=self.stdout.write)
        self.stdout.write(
            self.style.SUCCESS(
                f"The shop is as it was at {manifest.made_at[:16].replace('T', ' ')} UTC, every row and file compared. "
                f"Put the code of version {manifest.app_version} in place and start the server."
            )
        )
