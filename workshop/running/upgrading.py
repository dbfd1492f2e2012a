"""Bringing the shop up to the code that is there now: back up, migrate, collect, check; or back to where it was."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import connections

from workshop.migrating.held import in_one_piece
from workshop.running.backup import BackupFailed, make_backup
from workshop.running.backup_place import backup_folder, backup_place
from workshop.running.checking import check_backup
from workshop.running.in_use import shop_to_oneself
from workshop.running.keeping import made_at
from workshop.running.manifest import BackupRefused, Manifest
from workshop.running.restore import restore_alone, shop_is_empty
from workshop.running.shipped import load_what_ships

Say = Callable[[str], None]


@dataclass(frozen=True)
class UpgradeStep:
    """A step of the upgrade after the backup, in words, and what it does."""

    words: str
    do: Callable[[], Any]


class UpgradeFailed(Exception):
    """A step failed. The message says which, and in what state the shop is."""


def steps() -> list[UpgradeStep]:
    return [
        UpgradeStep("Migrations", lambda: call_command("migrate", interactive=False, verbosity=0)),
        UpgradeStep("Checklists", lambda: in_one_piece(load_what_ships)),
        UpgradeStep("Static files", lambda: call_command("collectstatic", interactive=False, verbosity=0)),
        UpgradeStep("Checks", _check),
    ]


def _check() -> None:
    """Raises SystemCheckError with what is wrong; that nothing is wrong need not be said twice."""
    call_command("check", deploy=settings.HTTPS, fail_level="ERROR", databases=["default"], stdout=io.StringIO())


def upgrade(*, say: Say, steps: list[UpgradeStep]) -> Path | None:
    """Take the steps with the shop to oneself; return the backup made first, None for a shop without anything in it.

    Raises:
        workshop.running.in_use.ShopInUse: the server is not stopped, or another machine serves.
        UpgradeFailed: a step failed; the database and files are those of the backup again.
    """
    with shop_to_oneself("upgrades it"):
        backup = None
        if not shop_is_empty():
            try:
                backup = make_backup(folder=backup_folder(), why="upgrade").path
            except BackupFailed as failed:
                raise UpgradeFailed(f"Without a backup nothing is upgraded. {failed} Nothing was changed.") from failed
            say(f"Backed up: {backup}")
        for step in steps:
            try:
                step.do()
            except Exception as error:  # whatever a migration may raise: the shop has to come back
                raise UpgradeFailed(_go_back(step, error, backup)) from error
            say(f"{step.words}: done")
        return backup


def newest_from_before(folder: Path) -> Path | None:
    """The newest backup that an upgrade made first; None without one."""
    dated = [(when, path) for path in folder.glob("*-before-upgrade.zip") if (when := made_at(path.name)) is not None]
    return max(dated)[1] if dated else None


def undo_upgrade(*, say: Say) -> Manifest:
    """Put the shop back as it was before the last upgrade, for the code of then; what is here now is backed up first.

    Raises:
        workshop.running.in_use.ShopInUse: the server is not stopped, or another machine serves.
        UpgradeFailed: there is nothing to go back to, or it cannot be done; nothing was changed.
    """
    with shop_to_oneself("takes its upgrade back"):
        before = newest_from_before(backup_place().folder)
        if before is None:
            raise UpgradeFailed("There is no backup from before an upgrade in the backup folder. Nothing was changed.")
        try:
            check_backup(before)
            kept = make_backup(folder=backup_folder(), why="back").path
            say(f"What is here now was backed up first: {kept}")
            return restore_alone(before, replace=True, bring_up_to_date=False)
        except (BackupFailed, BackupRefused) as reason:
            raise UpgradeFailed(f"{before.name} was not put back. {reason} Nothing was changed.") from reason


def _go_back(step: UpgradeStep, error: Exception, backup: Path | None) -> str:
    what = f"{step.words} failed: {type(error).__name__}: {error}"
    if backup is None:
        return f"{what}\nThere was no shop yet, so nothing is lost."
    connections["default"].close()
    try:
        restore_alone(backup, replace=True, bring_up_to_date=False)
    except Exception as again:  # said, not hidden: the backup is whole, and where it is
        return (
            f"{what}\nGoing back failed too: {again}\nThe backup is whole: {backup}. Put the code of before in place "
            f"and run: python3 manage.py restore --replace --without-backup {backup}"
        )
    return (
        f"{what}\nThe shop is as it was before: every row and file was put back from {backup} and compared. "
        "Put the code of before in place and start the server."
    )
