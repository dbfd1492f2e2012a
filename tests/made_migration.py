"""A migration made for a test, of these operations."""

from __future__ import annotations

from django.db.migrations import Migration
from django.db.migrations.operations.base import Operation


def migration_of(*operations: Operation, app: str = "workshop", contracts: str = "") -> Migration:
    made: Migration = type("Migration", (Migration,), {"operations": list(operations), "contracts": contracts})(
        "9001_shelf", app
    )
    return made
