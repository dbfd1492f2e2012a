"""A shop whose PostgreSQL is had through PgBouncer: it works and migrates there, and nothing acknowledged is lost."""

from __future__ import annotations

from pathlib import Path

import psycopg
import pytest

from tests.faults.cluster import Cluster, needed
from tests.faults.looking import look_through, wait_for_work
from tests.faults.pooler import pooled, pooler_program
from tests.faults.served import Acknowledged, Place, Work, make_shop, served
from tests.faults.table import Tell
from workshop.running.whole_check import sums_that_differ

pytestmark = pytest.mark.any_database  # its database is its own


@pytest.mark.django_db
def test_a_shop_works_through_a_pool_of_connections(tmp_path: Path, cluster: Cluster, told: Tell) -> None:
    program = needed(pooler_program(), "No PgBouncer on this machine.")
    straight = cluster.make_database("shop")
    place, kept = Place(tmp_path / "shop", straight), Acknowledged()
    staff = make_shop(place)
    with pooled(program, straight) as through:
        with psycopg.connect(through) as asked:
            assert asked.execute("SHOW lock_timeout").fetchone() == ("20s",)
        with served(place, DATABASE_URL=through, DATABASE_POOLED="1") as server, Work(server, staff, kept):
            for _ in range(3):
                wait_for_work(kept)
    assert (kept.refused, kept.titles) == ([], set())
    look_through(place, staff, kept, "through the pool")
    with place.records():
        assert sums_that_differ() == []
    told(
        "PostgreSQL through PgBouncer",
        acknowledged=sum(kept.counts()),
        words="none: every request was answered",
    )
