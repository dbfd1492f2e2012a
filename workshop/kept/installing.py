"""Putting the kept sums into the database, and keeping them there through migrations."""

from __future__ import annotations

from typing import Any

from django.db import connection, transaction

from workshop.kept import triggers

TABLES = {"workshop_lastvisit", "workshop_dueunit", "workshop_supplier", "workshop_batchlevel"}


@transaction.atomic
def rebuild() -> None:
    """Make triggers and sums anew."""
    triggers.install()


@transaction.atomic
def remove() -> None:
    """Take the triggers away; what they keep is made anew with them."""
    triggers.remove()


def before_migrating(plan: list[tuple[Any, bool]], **kwargs: Any) -> None:
    """Django remakes a SQLite table by renaming, and PostgreSQL alters no column that a trigger names."""
    if any(migration.app_label in {"specs", "workshop"} for migration, _ in plan):
        remove()


def after_migrating(**kwargs: Any) -> None:
    """Put back what the migrations took away; the first migration of all leads here too."""
    if set(connection.introspection.table_names()) >= TABLES and not triggers.is_installed():
        rebuild()
