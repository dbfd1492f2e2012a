"""PostgreSQL frozen while people work, as a machine that is moved or out of memory: they are told, and work goes on."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest

from tests.faults.cluster import Cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import Acknowledged, Place, Work, make_shop, served
from tests.faults.table import Tell
from workshop.running.hung_database import ANSWERS_WITHIN_S
from workshop.running.whole_check import sums_that_differ

pytestmark = pytest.mark.any_database  # its database is its own

AWAY = "The database does not answer"
ON_TOP_S = 15.0  # a new connection is given ten seconds
MORE_THAN_THREADS = 60  # so that each connection of before is met again


def processes_of(cluster: Cluster) -> list[psutil.Process]:
    """The first of them, and those that it started."""
    first = psutil.Process(int((cluster.folder / "data" / "postmaster.pid").read_text().split()[0]))
    return [first, *first.children(recursive=True)]


@contextmanager
def frozen(cluster: Cluster) -> Iterator[None]:
    """Every process of the server stopped where it stands; the network in front of them goes on taking bytes."""
    processes = processes_of(cluster)
    for process in processes:
        process.suspend()
    try:
        yield
    finally:
        for process in reversed(processes):
            process.resume()


@pytest.mark.django_db
def test_a_frozen_server_is_told_in_words_and_loses_nothing(tmp_path: Path, cluster: Cluster, told: Tell) -> None:
    address = cluster.make_database("shop")
    place, kept = Place(tmp_path / "shop", address), Acknowledged()
    staff = make_shop(place)
    with served(place) as server:
        server.answers_within_s = ANSWERS_WITHIN_S + ON_TOP_S
        with Work(server, staff, kept, patient=True):
            wait_for_work(kept)
            with frozen(cluster):
                began = time.monotonic()
                status, headers, page = server.ask("GET", "/bench/", staff.mechanic)
                took_s = time.monotonic() - began
                assert (status, headers["retry-after"]) == (503, "10")
                assert AWAY in page.decode()
                asked = time.monotonic()
                assert server.ask("GET", "/live")[0] == 200
                assert time.monotonic() - asked < 5, "it takes no thread"
                assert server.ask("GET", "/health")[0] == 503
            wait_for_work(kept)
            wait_for_work(kept)
        assert server.ask("GET", "/health")[0] == 200
    look_through(place, staff, kept, "after it was frozen")
    with place.records():
        assert sums_that_differ() == []
    assert took_s < ANSWERS_WITHIN_S + ON_TOP_S
    assert {status for _, _, status in (said.rpartition(" ") for said in kept.refused)} <= {"503"}
    assert kept.titles <= {AWAY}
    told("PostgreSQL frozen", acknowledged=sum(kept.counts()), words=AWAY)


@pytest.mark.django_db
def test_frozen_and_started_anew_the_first_retry_is_answered(tmp_path: Path, cluster: Cluster, told: Tell) -> None:
    """Its processes may hang for good; then somebody kills them and starts it again."""
    place = Place(tmp_path / "shop", cluster.make_database("shop"))
    staff = make_shop(place)
    with served(place) as server:
        server.answers_within_s = ANSWERS_WITHIN_S + ON_TOP_S
        assert {server.ask("GET", "/bench/", staff.mechanic)[0] for _ in range(MORE_THAN_THREADS)} == {200}
        hung = processes_of(cluster)
        for process in hung:
            process.suspend()
        status, headers, page = server.ask("GET", "/bench/", staff.mechanic)
        assert (status, headers["retry-after"]) == (503, "10")
        assert AWAY in page.decode()
        for process in hung:
            process.kill()
        psutil.wait_procs(hung, timeout=60)
        cluster.start()
        again = [server.ask("GET", "/bench/", staff.mechanic)[0] for _ in range(MORE_THAN_THREADS)]
    assert set(again) == {200}, "a connection of before was taken for a good one"
    told("PostgreSQL frozen, killed and started anew", injected=1, words=AWAY)
