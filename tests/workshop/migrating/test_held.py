"""Tables changed while somebody has them open: given up and begun again, by one at a time, and nothing half done."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from tests.factories import StockItemFactory
from workshop.kept import triggers
from workshop.kept.installing import after_migrating
from workshop.migrating import held
from workshop.migrating.held import TablesBusy, hold_tables, in_one_piece
from workshop.models import StockItem

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'postgresql'", reason="on SQLite a writer has the file to himself"),
]


@pytest.fixture
def other() -> Iterator[Any]:
    """Another machine's connection."""
    another = connection.copy()
    another.inc_thread_sharing()
    yield another
    another.close()


def _read(other: Any) -> None:
    """Open a transaction that has read a part, as a request has that goes on."""
    other.set_autocommit(False)
    with other.cursor() as cursor:
        cursor.execute("SELECT * FROM workshop_stockitem")


def test_who_has_a_table_open_is_waited_for(other: Any) -> None:
    _read(other)
    tried: list[int] = []

    def change() -> str:
        tried.append(1)
        hold_tables(["workshop_stockitem", "no_such_table"])
        return "changed"

    leaving = threading.Timer(1.5, other.rollback)
    leaving.start()
    assert in_one_piece(change) == "changed"
    leaving.join()
    assert len(tried) > 1


def test_after_a_while_nothing_was_changed_and_it_is_said(other: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(held, "WAIT_MS", 50)
    _read(other)

    def change() -> None:
        StockItemFactory()
        hold_tables(["workshop_stockitem"])

    with pytest.raises(TablesBusy, match="Nothing was changed"):
        in_one_piece(change, patience_s=0.5)
    assert not StockItem.objects.exists()


def test_the_command_says_in_a_line_that_tables_are_busy(monkeypatch: pytest.MonkeyPatch) -> None:
    def busy(change: Any) -> None:
        raise TablesBusy("Others had tables open.")

    monkeypatch.setattr("workshop.management.commands.migrate.in_one_piece", busy)
    with pytest.raises(CommandError, match="Others had tables open"):
        call_command("migrate", verbosity=0)


def test_another_fault_is_not_tried_again() -> None:
    tried: list[int] = []

    def change() -> None:
        tried.append(1)
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM no_such_table")

    with pytest.raises(Exception, match="no_such_table"):
        in_one_piece(change)
    assert len(tried) == 1


def test_one_changes_at_a_time(other: Any) -> None:
    order: list[str] = []
    inside = threading.Event()

    def second() -> None:
        with other.cursor() as cursor:
            cursor.execute("BEGIN; SELECT pg_advisory_xact_lock(%s)", [held._ONE_AT_A_TIME])
            order.append("second")
            cursor.execute("COMMIT")

    waiting = threading.Thread(target=second)

    def change() -> None:
        waiting.start()
        inside.wait(1)
        order.append("first")

    in_one_piece(change)
    waiting.join()
    assert order == ["first", "second"]


def test_a_trigger_that_does_its_work_otherwise_is_put_in_its_place() -> None:
    """As after a release that changed what a trigger does, without a migration that takes it away."""
    assert triggers.is_installed()
    with connection.cursor() as cursor:
        cursor.execute("COMMENT ON FUNCTION kept_moved() IS 'of another release'")
    assert not triggers.is_installed()
    after_migrating()
    assert triggers.is_installed()


def test_within_a_transaction_it_is_part_of_that() -> None:
    with transaction.atomic():
        in_one_piece(lambda: StockItemFactory())
        transaction.set_rollback(True)
    assert not StockItem.objects.exists()
