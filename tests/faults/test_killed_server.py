"""The server killed at random moments while people work: what was acknowledged is there, and nothing is half there.

Two rounds; `FAULT_ROUNDS=50 python3 manage.py test tests/faults` is the long form.
"""

from __future__ import annotations

import os
import random
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.db import connections

from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import STEPS, Acknowledged, Place, Server, Work, make_shop

ROUNDS = int(os.environ.get("FAULT_ROUNDS", "2"))
LONGEST_WORK_S = 4.0


@pytest.fixture
def place(tmp_path: Path, db: None) -> Iterator[Place]:
    """On the kind of database that the tests run on."""
    here = connections["default"]
    if here.vendor == "sqlite":
        yield Place(tmp_path / "shop")
        return
    name = f"{here.settings_dict['NAME']}_killed"
    with closing(here.copy()) as outside, outside.cursor() as cursor:  # the test's own transaction would refuse it
        cursor.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        cursor.execute(f'CREATE DATABASE "{name}"')
        yield Place(tmp_path / "shop", urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}").geturl())
        cursor.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def test_nothing_acknowledged_is_lost_and_nothing_is_half_there(place: Place) -> None:
    staff = make_shop(place)
    server, kept = Server(place), Acknowledged()
    chance = random.Random()
    try:
        for killed in range(ROUNDS):
            server.start()
            with Work(server, staff, kept):
                wait_for_work(kept)
                time.sleep(chance.uniform(0, LONGEST_WORK_S))
                server.kill()
            look_through(place, staff, kept, f"after kill {killed + 1}")
        server.start()
        assert server.ask("GET", f"/bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/", staff.mechanic)[0] == 200
    finally:
        server.kill()
    look_through(place, staff, kept, "after the last start")
    assert not kept.refused, (kept.refused, kept.titles)
    print(f"{ROUNDS} kills: {kept}, and found")  # shown with -s, and where the test fails
