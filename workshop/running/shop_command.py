"""A command that works in the shop: where there is none, it says so and makes nothing."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workshop.migrating.held import TablesBusy
from workshop.running.whereabouts import NotUsable, check_ready


class ShopCommand(BaseCommand):
    """Looks whether there is a shop's database that this code can work with, before anything else."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        try:
            check_ready()
        except NotUsable as reason:
            raise CommandError(str(reason)) from reason
        try:
            return super().execute(*args, **options)
        except TablesBusy as busy:
            raise CommandError(str(busy)) from busy
