"""Restoring as the command does, without its questions."""

from __future__ import annotations

from pathlib import Path

from workshop.running.in_use import shop_to_oneself
from workshop.running.manifest import Manifest
from workshop.running.restore import restore_alone


def restore_backup(path: Path, *, replace: bool = False, bring_up_to_date: bool = True) -> Manifest:
    """As restore_alone; raises ShopInUse where somebody works in the shop."""
    with shop_to_oneself():
        return restore_alone(path, replace=replace, bring_up_to_date=bring_up_to_date)
