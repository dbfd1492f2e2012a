"""A command that makes something of the database anew says in a line that others had its tables open."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from tests.factories import StockMovementFactory
from workshop.migrating.held import TablesBusy


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("command", "sent", "where"),
    [("check_sums", ["--mend"], "workshop.kept.installing"), ("rebuild_search", [], "workshop.searching.installing")],
)
def test_tables_that_others_have_open_are_said(
    command: str, sent: list[str], where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(change: Any) -> None:
        raise TablesBusy("Others had tables open.")

    StockMovementFactory()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE workshop_stocklevel SET level = 3")
    monkeypatch.setattr(f"{where}.in_one_piece", busy)
    with pytest.raises(CommandError, match="Others had tables open"):
        call_command(command, *sent)
