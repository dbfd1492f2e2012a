"""Shops of earlier versions, kept as their backups (tests/running/old_shops), are upgraded and lose nothing."""

from __future__ import annotations

import io
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connections
from django.db.models import Sum

from tests.known import known
from tests.running.keep_old_shop import OLD_SHOPS
from tests.running.machines import empty_machine
from tests.running.restoring import restore_backup
from tests.running.schemas import schema_of
from workshop.models import Customer, Payment, Photo, Receipt, Shop, Ticket
from workshop.running.checking import check_backup, lines_of_member, opened
from workshop.running.tables import applied_migrations, open_migrations
from workshop.running.upgrading import newest_from_before, undo_upgrade


def payments_in(backup: Path) -> Decimal:
    with opened(backup) as (archive, _):
        rows = [json.loads(line) for line in lines_of_member(archive, "workshop.payment")]
    return sum((Decimal(row["amount"]) for row in rows), Decimal(0))


def test_there_is_one() -> None:
    assert (OLD_SHOPS / "0084.zip").is_file()


@pytest.mark.parametrize("finds_back", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize("kept", sorted(OLD_SHOPS.glob("*.zip")), ids=lambda path: path.stem)
def test_a_shop_of_then_is_upgraded_and_finds_its_way_back(
    kept: Path, finds_back: bool, data_dir: Path, transactional_db: None, settings: Any, tmp_path: Path
) -> None:
    before = check_backup(kept)
    rows = {label: table.rows for label, table in before.tables.items()}
    settings.STATIC_ROOT = tmp_path / "static"
    at_once = schema_of(connections["default"])
    with empty_machine(settings, tmp_path / "machine") as folder:
        restore_backup(kept, bring_up_to_date=False)
        assert applied_migrations(connections["default"])["workshop"][-1].startswith(kept.stem)
        call_command("upgrade", stdout=io.StringIO())

        assert open_migrations(connections["default"]) == []
        assert schema_of(connections["default"]) == at_once  # as those who begin with today's version have it
        assert Shop.objects.get().name == "Aldermoor Suspension"
        assert Ticket.objects.count() == rows["workshop.ticket"] > 0
        assert Customer.objects.count() == rows["workshop.customer"] > 0
        assert Receipt.objects.count() == rows["workshop.receipt"] > 0
        assert Payment.objects.aggregate(all=Sum("amount"))["all"] == payments_in(kept) > 0
        assert all(photo.file.storage.exists(known(photo.file.name)) for photo in Photo.objects.all())
        assert Photo.objects.count() == rows["workshop.photo"] > 0
        assert newest_from_before(folder / "backups") is not None
        if not finds_back:
            return
        Ticket.objects.update(complaint_words="Written since")
        said: list[str] = []
        assert undo_upgrade(say=said.append).tables == before.tables
        assert applied_migrations(connections["default"])["workshop"][-1].startswith(kept.stem)
        (since,) = (folder / "backups").glob("*-before-back.zip")
        assert str(since) in said[0]
        assert check_backup(since).tables["workshop.ticket"].sha256 != before.tables["workshop.ticket"].sha256
