"""Somebody empties a table, and the shop goes back to the moment before: .examples/pgbackrest.conf, followed."""

from __future__ import annotations

import time
from pathlib import Path

import psycopg
import pytest

from tests.faults.archive import archived, archiver_program
from tests.faults.cluster import Cluster, needed
from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import Acknowledged, Place, Work, make_shop, served
from tests.faults.table import Tell
from workshop.models import Customer
from workshop.running.whole_check import sums_that_differ

pytestmark = pytest.mark.any_database  # its database is its own

PROMOTED_WITHIN_S = 120


def asked(address: str, sql: str) -> str:
    with psycopg.connect(address, autocommit=True) as connection:
        found = connection.execute(sql).fetchone()
    return str(found[0]) if found else ""


@pytest.mark.django_db
def test_a_shop_goes_back_to_the_moment_before_a_table_was_emptied(
    tmp_path: Path, cluster: Cluster, told: Tell
) -> None:
    program = needed(archiver_program(), "No pgBackRest on this machine.")
    address = cluster.make_database("shop")
    place, kept = Place(tmp_path / "shop", address), Acknowledged()
    staff = make_shop(place)
    with archived(program, cluster) as archive:
        archive.back_up()
        with served(place) as server, Work(server, staff, kept):
            for _ in range(2):
                wait_for_work(kept)
        moment = asked(address, "SELECT clock_timestamp()::text")
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute("TRUNCATE workshop_customer CASCADE")
            connection.execute("SELECT pg_switch_wal()")
        with place.records():
            assert not Customer.objects.exists()
        cluster.stop("fast")
        archive.go_back(moment)
        cluster.start()
        wait_until_it_takes_writes(address)
        look_through(place, staff, kept, "at the moment before")
        with place.records():
            assert sums_that_differ() == []
    told("a table emptied, PostgreSQL put back to the moment before", acknowledged=sum(kept.counts()), words="-")


def wait_until_it_takes_writes(address: str) -> None:
    give_up = time.monotonic() + PROMOTED_WITHIN_S
    while asked(address, "SELECT pg_is_in_recovery()") != "False":
        assert time.monotonic() < give_up, "still being put back"
        time.sleep(0.1)
