"""The network between shop and PostgreSQL slow, silent or cut: said in words, and nothing acknowledged is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.cluster import Cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.proxy import network_to
from tests.faults.served import Acknowledged, Place, Work, make_shop, served
from tests.faults.table import Tell

pytestmark = pytest.mark.any_database  # its database is its own

AWAY = "The database does not answer"


@pytest.mark.django_db
def test_a_network_that_is_slow_silent_and_cut_loses_nothing(tmp_path: Path, cluster: Cluster, told: Tell) -> None:
    straight = cluster.make_database("shop")
    place = Place(tmp_path / "shop", straight)
    staff, kept = make_shop(place), Acknowledged()
    with network_to(cluster.port) as network:
        through = straight.replace(f":{cluster.port}/", f":{network.port}/")
        with served(place, DATABASE_URL=f"{through}?connect_timeout=2") as server:
            with Work(server, staff, kept, patient=True):
                wait_for_work(kept)
                network.slow(0.02)
                wait_for_work(kept)  # slower, and no less
                network.pass_on()
                slowly = list(kept.refused)
                for _ in range(3):
                    wait_for_work(kept)
                    network.cut_all()
                wait_for_work(kept)
            network.silence()
            network.cut_all()  # whoever was connected has to come anew, and nobody answers
            status, headers, page = server.ask("GET", "/bench/", staff.mechanic)
            assert (status, headers["retry-after"]) == (503, "10")
            assert AWAY in page.decode()
            assert server.ask("GET", "/health")[0] == 503
            network.pass_on()
            with Work(server, staff, kept, patient=True):
                wait_for_work(kept)
            assert server.ask("GET", "/health")[0] == 200
            cut = network.cut
    look_through(place, staff, kept, "after the network was lost")
    assert slowly == []
    assert {status for _, _, status in (said.rpartition(" ") for said in kept.refused)} <= {"503"}
    assert kept.titles <= {AWAY}
    told("network to PostgreSQL slow, cut, silent", injected=cut, acknowledged=sum(kept.counts()), words=AWAY)
