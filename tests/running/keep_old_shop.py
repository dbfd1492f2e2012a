"""Keeps a shop of today's version for the upgrades of later ones: a backup, named for its newest migration.

Not collected by itself. After a release: python3 manage.py test tests/running/keep_old_shop.py
"""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import connection

from tests.full_shop import full_shop
from workshop.running.backup import make_backup
from workshop.running.tables import applied_migrations

OLD_SHOPS = Path(__file__).parent / "old_shops"


@pytest.mark.django_db(transaction=True)
def test_keep_it(data_dir: Path) -> None:
    full_shop("Aldermoor")
    newest = applied_migrations(connection)["workshop"][-1]
    made = make_backup(folder=data_dir.parent / "backups")
    OLD_SHOPS.mkdir(exist_ok=True)
    (OLD_SHOPS / f"{newest[:4]}.zip").write_bytes(made.path.read_bytes())
