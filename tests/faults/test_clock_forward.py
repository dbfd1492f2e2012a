"""The clock of the shop's computer set ahead and put right again: it is told, and nothing is dropped for it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from tests.faults.table import Tell
from tests.running.conftest import data_dir, shop
from tests.running.machines import make_tables_at_once
from workshop.models import Ticket, TicketEvent
from workshop.running import loading
from workshop.running.keeping import name_of
from workshop.running.preflight import clock
from workshop.running.preflight.findings import Purpose
from workshop.running.preflight.looking import look
from workshop.running.version import NO_EARLIER_THAN

__all__ = ["data_dir", "shop"]


@pytest.fixture(autouse=True)
def _tables_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The test restore, without the way through every migration."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)


def test_entries_of_a_clock_that_was_ahead_are_told_once_it_is_right(shop: Ticket, told: Tell) -> None:
    assert list(clock.clock_before_rows(Purpose.CHECK)) == []
    TicketEvent.objects.create(ticket=shop, at=timezone.now() + dt.timedelta(days=400), kind="booked_in", values={})
    (finding,) = clock.clock_before_rows(Purpose.CHECK)
    assert "it is slow now, or was fast then" in finding.words
    assert "Set the clock" in finding.todo
    assert finding in look(Purpose.PAGE)
    told("clock set ahead, then right again", words=str(finding))


def test_a_clock_before_the_code_is_told(shop: Ticket, monkeypatch: pytest.MonkeyPatch, told: Tell) -> None:
    monkeypatch.setattr(timezone, "now", lambda: dt.datetime(2019, 5, 6, 12, tzinfo=dt.UTC))
    (finding,) = clock.clock_before_code(Purpose.CHECK)
    assert finding.words.startswith("It says 6 May 2019")
    told("clock before the day of the code", words=str(finding))


def test_the_day_of_the_code_is_that_of_its_changes() -> None:
    changes = (Path(__file__).parents[2] / ".readme" / "CHANGES.md").read_text(encoding="utf-8")
    newest = next(line for line in changes.splitlines() if line.startswith("## "))
    assert newest == f"## {NO_EARLIER_THAN:%B %Y}"


def test_backups_outlive_a_clock_that_jumped_ahead(
    shop: Ticket, settings: Any, monkeypatch: pytest.MonkeyPatch, told: Tell
) -> None:
    now = timezone.now()
    folder = Path(settings.BACKUP_DIR)
    folder.mkdir(parents=True)
    names = [name_of(now - dt.timedelta(days=age)) for age in range(1, 90)]
    for name in names:
        (folder / name).touch()
    monkeypatch.setattr(timezone, "now", lambda: now + dt.timedelta(days=500))
    call_command("backup")
    left = {path.name for path in folder.iterdir()} & set(names)
    assert names[0] in left
    assert len(left) >= 3
    told("clock 500 days ahead during a backup", acknowledged=len(names), words=f"{len(left)} older backups kept")
