"""PostgreSQL stopped and started again while people work: it is said in words, goes on by itself, and loses nothing."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest

from tests.faults.cluster import Cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import STEPS, Acknowledged, Place, Server, Staff, Work, make_shop, served

AWAY = "The database does not answer"


@pytest.mark.django_db
def test_postgresql_restarted_under_load_is_said_and_loses_nothing(tmp_path: Path, cluster: Cluster) -> None:
    place = Place(tmp_path / "shop", cluster.make_database("shop"))
    staff, kept = make_shop(place), Acknowledged()
    with served(place) as server:
        with Work(server, staff, kept, patient=True):
            for mode in ("fast", "immediate", "fast"):
                wait_for_work(kept)
                time.sleep(random.uniform(0, 2))
                cluster.stop(mode)
                look_at_what_is_said(server, staff)
                cluster.start()
            wait_for_work(kept)
        assert server.ask("GET", "/health")[0] == 200
    look_through(place, staff, kept, "after the restarts")
    assert {status for _, _, status in (said.rpartition(" ") for said in kept.refused)} == {"503"}
    assert kept.titles == {AWAY}
    print(f"3 restarts: {kept}, and found; refused meanwhile: {len(kept.refused)}")


def look_at_what_is_said(server: Server, staff: Staff) -> None:
    """To a page, to the proxy, and to a tablet: no JSON and no 4xx, so that it keeps its answer and tries again."""
    assert server.ask("GET", "/health")[0] == 503
    path = f"/bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/"
    for method, address in (("GET", path), ("POST", f"{path}answer/")):
        status, headers, content = server.ask(method, address, staff.mechanic, {"version": "1"}, htmx=method == "POST")
        assert (status, headers["retry-after"]) == (503, "10")
        assert headers["content-type"].startswith("text/html")
        assert AWAY in content.decode()
