"""PostgreSQL lost for good while people work, and its standby put in its place: nothing acknowledged is lost.

As with any address that moves: the shop's stays the same, and leads to another server. The first server acknowledges
only what the second has written down; without that, PostgreSQL itself may lose the last moments.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.cluster import Cluster, own_cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.proxy import network_to
from tests.faults.served import Acknowledged, Place, Work, make_shop, served
from tests.faults.table import Tell

pytestmark = pytest.mark.any_database  # its database is its own

AWAY = "The database does not answer"


@pytest.fixture
def primary(programs: Path) -> Iterator[Cluster]:
    with own_cluster(programs) as own:
        yield own


@pytest.mark.django_db
def test_a_standby_in_the_place_of_a_lost_server_has_whatever_was_acknowledged(
    tmp_path: Path, programs: Path, primary: Cluster, told: Tell
) -> None:
    straight = primary.make_database("shop")
    place, kept = Place(tmp_path / "shop", straight), Acknowledged()
    staff = make_shop(place)
    with own_cluster(programs, follows=primary) as standby, network_to(primary.port) as network:
        primary.wait_for_standby()
        through = straight.replace(f":{primary.port}/", f":{network.port}/")
        with served(place, DATABASE_URL=f"{through}?connect_timeout=2") as server:
            with Work(server, staff, kept, patient=True):
                wait_for_work(kept)
                time.sleep(random.uniform(0, 2))
                primary.stop("immediate")
                before = sum(kept.counts())
                assert server.ask("GET", "/health")[0] == 503
                standby.promote()
                network.lead_to(standby.port)
                network.cut_all()
                wait_for_work(kept)
            assert server.ask("GET", "/health")[0] == 200
        after = Place(place.folder, straight.replace(f":{primary.port}/", f":{standby.port}/"))
        look_through(after, staff, kept, "after the standby took over")
    assert before
    assert {status for _, _, status in (said.rpartition(" ") for said in kept.refused)} <= {"503"}
    assert kept.titles <= {AWAY}
    told("PostgreSQL lost, its standby put in its place", injected=1, acknowledged=sum(kept.counts()), words=AWAY)
