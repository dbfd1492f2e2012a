"""Which migrations need a table without its triggers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import connection
from django.db.migrations import operations

# PostgreSQL alters no column that a trigger names, and a trigger would go on writing to what is no more there.
_ALTERING = (
    operations.AlterField,
    operations.RemoveField,
    operations.RenameField,
    operations.DeleteModel,
    operations.RenameModel,
    operations.AlterModelTable,
    operations.RunSQL,
    operations.SeparateDatabaseAndState,
)
Plan = Iterable[tuple[Any, bool]]


def must_go(plan: Plan, *, apps: set[str], by_rows_too: bool = False) -> bool:
    """Whether triggers on tables of these apps have to be away while the plan is followed.

    SQLite makes a table anew to alter it, and no trigger may name it then. PostgreSQL adds columns, rules and tables
    beside them; `by_rows_too` says that a migration which changes rows cannot be beside them either. Backwards
    anything may go.
    """
    ours = [(migration, backwards) for migration, backwards in plan if migration.app_label in apps]
    if connection.vendor != "postgresql":
        return bool(ours)
    altering = (*_ALTERING, operations.RunPython) if by_rows_too else _ALTERING
    return any(
        backwards or any(isinstance(operation, altering) for operation in migration.operations)
        for migration, backwards in ours
    )
