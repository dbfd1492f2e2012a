"""Putting the kept sums into the database, and keeping them there through migrations."""

from __future__ import annotations

from typing import Any

from django.db import connection, transaction

from workshop.kept import triggers
from workshop.migrating.held import hold_tables, in_one_piece
from workshop.migrating.touching import must_go

TABLES = {"workshop_lastvisit", "workshop_dueunit", "workshop_supplier", "workshop_batchlevel"}


def rebuild() -> None:
    """Make triggers and sums anew, while the shop goes on."""
    in_one_piece(_rebuild)


@transaction.atomic
def _rebuild() -> None:
    triggers.install()


@transaction.atomic
def remove() -> None:
    """Take the triggers away; what they keep is made anew with them."""
    hold_tables(trigger.table for trigger in triggers.TRIGGERS)
    triggers.remove()


def before_migrating(plan: list[tuple[Any, bool]], **kwargs: Any) -> None:
    """Take them away where the plan cannot be followed beside them."""
    if must_go(plan, apps={"specs", "workshop"}):
        remove()


def after_migrating(**kwargs: Any) -> None:
    """Put back what the migrations took away; the first migration of all leads here too."""
    if set(connection.introspection.table_names()) >= TABLES and not triggers.is_installed():
        rebuild()
