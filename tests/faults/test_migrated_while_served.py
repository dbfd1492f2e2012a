"""Two releases, one PostgreSQL: the newer one migrates while the last one goes on serving from another machine.

The newer release is a copy of this one with two migrations more, one that adds beside what is there and one that
alters a column which triggers name, and with a trigger that does its work in other words.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.conf import settings

from diagnosis.models import Checklist
from tests.faults.cluster import Cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import Acknowledged, Place, Server, Work, make_shop, served
from tests.faults.table import Tell
from workshop.running.whole_check import sums_that_differ
from workshop.searching import agreeing

pytestmark = pytest.mark.any_database  # its database is its own

THE_SAME = "a key that both machines have, and long enough for the checks"
ADDS, ALTERS = "9001_adds", "9002_alters"
LAST = sorted(path.stem for path in (settings.BASE_DIR / "workshop" / "migrations").glob("[0-9]*.py"))[-1]
_MIGRATION = """from django.db import migrations, models

class Migration(migrations.Migration):
    dependencies = [("workshop", "{after}")]
    operations = [{operations}]
"""
_ADDS = """
    migrations.AddField("ticket", "shelf", models.CharField(max_length=20, db_default="")),
    migrations.AddIndex("ticket", models.Index(fields=["shelf"], name="ticket_shelf")),
    migrations.CreateModel("shelf", [("id", models.BigAutoField(primary_key=True)), ("name", models.TextField())]),
    migrations.RunPython(
        lambda apps, editor: apps.get_model("workshop", "customer").objects.update(notes="seen"),
        migrations.RunPython.noop,
    ),
"""
_ALTERS = """
    migrations.AlterField("stockmovement", "quantity", models.DecimalField(max_digits=11, decimal_places=2)),
    migrations.AlterField("ticket", "search_text", models.TextField(default="", editable=False, db_comment="words")),
"""


@pytest.fixture
def newer(tmp_path: Path) -> Path:
    """The folder of the newer release."""
    there = tmp_path / "newer"
    for part in ("workshop", "diagnosis", "specs", "templates", "static", "fixtures", ".requirements"):
        shutil.copytree(settings.BASE_DIR / part, there / part, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("manage.py", "pyproject.toml"):
        shutil.copy(settings.BASE_DIR / name, there)
    migrations = there / "workshop" / "migrations"
    (migrations / f"{ADDS}.py").write_text(_MIGRATION.format(after=LAST, operations=_ADDS))
    (migrations / f"{ALTERS}.py").write_text(_MIGRATION.format(after=ADDS, operations=_ALTERS))
    triggers = there / "workshop" / "kept" / "triggers.py"
    words = triggers.read_text()
    assert "level + new.quantity, 2) WHERE item_id" in words
    triggers.write_text(
        words.replace("level + new.quantity, 2) WHERE item_id", "new.quantity + level, 2) WHERE item_id")
    )
    return there


def migrate(place: Place, release: Path, to: str) -> None:
    environment = {
        **os.environ,
        "DATA_DIR": str(place.folder),
        "DATABASE_URL": place.database_url,
        "OWN_ENVIRONMENT": "1",
    }
    command = [sys.executable, "manage.py", "migrate", "workshop", to, "-v0"]
    done = subprocess.run(command, cwd=release, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-3000:]


@pytest.mark.django_db
def test_the_last_release_serves_while_the_next_one_migrates(
    tmp_path: Path, cluster: Cluster, newer: Path, told: Tell
) -> None:
    place = Place(tmp_path / "shop", cluster.make_database("shop"))
    staff, kept = make_shop(place), Acknowledged()
    steps = (ADDS, ALTERS, LAST, ALTERS, LAST, ADDS)
    with served(place) as server, Work(server, staff, kept):
        for to in steps:
            wait_for_work(kept)
            migrate(place, newer, to)
        wait_for_work(kept)
    assert (kept.refused, kept.titles) == ([], set())
    look_through(place, staff, kept, "after the migrations")
    with place.records():
        assert (sums_that_differ(), agreeing.what_differs()) == ([], [])
    told(
        "migrated by the next release under work",
        injected=len(steps),
        acknowledged=sum(kept.counts()),
        words="none: every request was answered, by the last release, before, during and after",
    )


@pytest.mark.django_db
def test_two_machines_that_start_at_once_on_an_empty_database_both_come_up(
    tmp_path: Path, cluster: Cluster, told: Tell
) -> None:
    address = cluster.make_database("empty")
    places = [Place(tmp_path / name, address) for name in ("one", "other")]
    for place in places:
        place.folder.mkdir(mode=0o700)
    servers = [Server(place, SECRET_KEY=THE_SAME) for place in places]
    try:
        with ThreadPoolExecutor(2) as machines:
            list(machines.map(Server.start, servers))
        assert [server.ask("GET", "/health")[0] for server in servers] == [200, 200]
    finally:
        for server in servers:
            server.kill()
    with places[0].records():
        assert set(Checklist.objects.values_list("number", flat=True)) == {1}
        assert (sums_that_differ(), agreeing.what_differs()) == ([], [])
    told("two first starts at once on an empty database", injected=2, words="none: both came up")
