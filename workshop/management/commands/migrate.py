"""`manage.py migrate`: Django's, on PostgreSQL in one piece while other machines go on serving."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError
from django.core.management.commands.migrate import Command as DjangosMigrate
from django.db import DEFAULT_DB_ALIAS, connection

from workshop.migrating.held import TablesBusy, in_one_piece


class Command(DjangosMigrate):
    def handle(self, *args: Any, **options: Any) -> None:
        if options["database"] != DEFAULT_DB_ALIAS:
            super().handle(*args, **options)
            return
        try:
            in_one_piece(lambda: super(Command, self).handle(*args, **options))
        except TablesBusy as busy:
            raise CommandError(str(busy)) from busy

    def migration_progress_callback(self, action: str, migration: Any = None, fake: bool = False) -> None:
        """In one transaction no table is altered while references to it wait for their check."""
        if action in {"apply_start", "unapply_start"} and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        super().migration_progress_callback(action, migration, fake)
