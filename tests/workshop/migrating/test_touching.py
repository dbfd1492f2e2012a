"""Which migrations can be followed beside the triggers of a shop that goes on, and which need them away."""

from __future__ import annotations

import pytest
from django.db import connection, models
from django.db.migrations import Migration, operations
from django.db.migrations.operations.base import Operation

from tests.made_migration import migration_of
from workshop.migrating.touching import must_go

ADDS = operations.AddField("ticket", "shelf", models.CharField(max_length=20, db_default=""))
MAKES = operations.CreateModel("shelf", [("id", models.BigAutoField(primary_key=True))])
FILLS = operations.RunPython(operations.RunPython.noop)
ALTERS = operations.AlterField("ticket", "shelf", models.TextField(db_default=""))
REMOVES = operations.RemoveField("ticket", "shelf")
BY_HAND = operations.RunSQL("SELECT 1")


def _plan(*made_of: Operation, app: str = "workshop", backwards: bool = False) -> list[tuple[Migration, bool]]:
    return [(migration_of(*made_of, app=app), backwards)]


@pytest.mark.parametrize(
    ("plan", "must"),
    [
        (_plan(ADDS, MAKES, FILLS), False),
        (_plan(ADDS, ALTERS), True),
        (_plan(REMOVES), True),
        (_plan(BY_HAND), True),
        (_plan(ADDS, backwards=True), True),
        (_plan(ALTERS, app="sessions"), False),
        ([], False),
    ],
)
def test_postgresql_keeps_them_beside_what_only_adds(
    plan: list[tuple[Migration, bool]], must: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "vendor", "postgresql")
    assert must_go(plan, apps={"workshop"}) is must


def test_rows_that_a_migration_mends_need_the_log_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "vendor", "postgresql")
    assert must_go(_plan(FILLS), apps={"workshop"}, by_rows_too=True)
    assert not must_go(_plan(ADDS), apps={"workshop"}, by_rows_too=True)


def test_sqlite_makes_tables_anew_and_keeps_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "vendor", "sqlite")
    assert must_go(_plan(ADDS), apps={"workshop"})
    assert not must_go(_plan(ADDS, app="sessions"), apps={"workshop"})
