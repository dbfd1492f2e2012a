"""Some seconds of what tests/benchmarks/test_load.py does for minutes: no error, nothing lost. No time is judged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connections

from tests.benchmarks.databases import beside_the_tests
from tests.benchmarks.load import NOTHING_WRONG, small_shop, table_of, under_load
from tests.faults.served import Place

# Ended by what was done; the seconds are for a machine on which nothing goes on.
AT_MOST_S, ENOUGH = 240, {"ticked": 60, "booked": 2, "photographed": 5}


@pytest.fixture
def place(tmp_path: Path, db: None) -> Iterator[Place]:
    """On the kind of database that the tests run on."""
    here = connections["default"]
    if here.vendor == "sqlite":
        yield Place(tmp_path / "data")
        return
    with beside_the_tests(f"{here.settings_dict['NAME']}_load") as database:
        yield Place(tmp_path / "data", database["DATABASE_URL"])


def test_twenty_tablets_and_four_desks_behind_a_proxy(place: Place, tmp_path: Path) -> None:
    people = small_shop(place)
    outcome = under_load(place, people, tmp_path / "load", way="proxy", seconds=AT_MOST_S, enough=ENOUGH)
    print(f"\n{table_of(outcome, connections['default'].vendor)}")  # shown with -s, and where the test fails
    assert outcome.failures == []
    assert all(outcome.kept.values())
    assert outcome.wrong == NOTHING_WRONG
    assert "locked" not in outcome.log
