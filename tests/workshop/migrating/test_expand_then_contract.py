"""Expand, then contract: the last release goes on working with the tables of this one.

A column or table that code no longer uses goes away one release later, by a migration that says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import models
from django.db.migrations import operations
from django.db.migrations.loader import MigrationLoader
from django.db.models.fields import NOT_PROVIDED

from tests.made_migration import migration_of

# Up to here migrations were written for a machine that stands still meanwhile.
SINCE = {"workshop": 113, "diagnosis": 21, "specs": 78}
_ADDS = (operations.CreateModel, operations.AddIndex, operations.RunPython, operations.AlterModelOptions)


def wrong_with(migration: Any) -> Iterator[str]:
    """What the last release would stumble over, a sentence each; nothing where `contracts` says why it does not."""
    if getattr(migration, "contracts", ""):
        return
    for operation in migration.operations:
        words = operation.describe()
        if isinstance(operation, operations.AddField):
            if not _can_be_left_out(operation.field):
                yield f"{words}: the last release writes rows without it; give it a db_default, or null"
        elif isinstance(operation, (operations.AddConstraint, operations.AlterField)):
            yield f"{words}: the last release may write what this refuses"
        elif not isinstance(operation, _ADDS):
            yield f"{words}: the last release still asks for what this takes away"


def _can_be_left_out(field: Any) -> bool:
    return bool(field.null or field.db_default is not NOT_PROVIDED or field.many_to_many)


def test_every_migration_since_then_lets_the_last_release_go_on() -> None:
    loader = MigrationLoader(None)
    since = [
        migration
        for (app, name), migration in sorted(loader.disk_migrations.items())
        if app in SINCE and int(name[:4]) > SINCE[app]
    ]
    assert [f"{migration}: {words}" for migration in since for words in wrong_with(migration)] == []


@pytest.mark.parametrize(
    ("operation", "said"),
    [
        (operations.AddField("ticket", "shelf", models.CharField(max_length=9, default="")), "db_default"),
        (operations.RemoveField("ticket", "shelf"), "still asks"),
        (operations.RenameField("ticket", "shelf", "place"), "still asks"),
        (operations.AlterField("ticket", "shelf", models.CharField(max_length=3)), "may write"),
        (operations.RunSQL("SELECT 1"), "still asks"),
    ],
)
def test_what_the_last_release_would_stumble_over_is_found(operation: operations.base.Operation, said: str) -> None:
    (words,) = wrong_with(migration_of(operation))
    assert said in words
    assert list(wrong_with(migration_of(operation, contracts="Since release 9 nothing asks for the shelf."))) == []


def test_what_only_adds_is_left_alone() -> None:
    migration = migration_of(
        operations.AddField("ticket", "shelf", models.CharField(max_length=9, db_default="")),
        operations.AddField("ticket", "place", models.CharField(max_length=9, null=True)),
        operations.CreateModel("shelf", [("id", models.BigAutoField(primary_key=True))]),
        operations.AddIndex("ticket", models.Index(fields=["shelf"], name="ticket_shelf")),
    )
    assert list(wrong_with(migration)) == []
