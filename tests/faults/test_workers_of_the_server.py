"""The processes that a server begins for work done apart: killed one by one, and with the server itself."""

from __future__ import annotations

import os
import signal
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

from tests.faults.served import STEPS, Place, Server, Staff, a_photo, make_shop
from tests.known import known

PATIENCE_S = 120


@pytest.fixture
def place(tmp_path: Path, db: None) -> Place:
    return Place(tmp_path / "shop")


@pytest.fixture
def server(place: Place) -> Iterator[Server]:
    server = Server(place)
    yield server
    server.kill()


def wait_for(is_so: Callable[[], bool]) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < give_up
        time.sleep(0.1)


def photo_sent(server: Server, staff: Staff) -> tuple[int, str]:
    path = f"/bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/photo/"
    sent = {"client_id": str(uuid.uuid4())}
    status, _, content = server.ask("POST", path, staff.mechanic, sent, htmx=True, photo=a_photo())
    return status, content.decode()


def below(server: Server) -> list[psutil.Process]:
    """Every process that the server began."""
    return psutil.Process(known(server.process).pid).children(recursive=True)


def workers(server: Server) -> set[psutil.Process]:
    """Those that work apart: what answers requests begins what makes them, and that makes them."""
    answering = psutil.Process(known(server.process).pid).children()
    return {worker for one in answering for maker in one.children() for worker in maker.children()}


def test_a_killed_worker_costs_one_answer_at_most_and_none_outlives_the_server(place: Place, server: Server) -> None:
    staff = make_shop(place)
    server.start()
    assert workers(server) == set()  # none before there is work
    assert photo_sent(server, staff)[0] == 200
    [worker] = workers(server)

    worker.kill()
    wait_for(lambda: not worker.is_running())
    answers = [photo_sent(server, staff) for _ in range(8)]  # to whichever process takes them
    broken_off = [content for status, content in answers if status != 200]
    assert len(broken_off) <= 1
    assert all("broke off before it was done" in content for content in broken_off)

    everything = below(server)
    assert workers(server)
    os.kill(known(server.process).pid, signal.SIGTERM)
    known(server.process).wait(PATIENCE_S)
    wait_for(lambda: not any(one.is_running() and one.status() != psutil.STATUS_ZOMBIE for one in everything))


def test_workers_end_when_what_began_them_is_killed(place: Place, server: Server) -> None:
    staff = make_shop(place)
    server.start()
    assert photo_sent(server, staff)[0] == 200
    [worker] = workers(server)
    [answering] = [one for one in worker.parents() if one.ppid() == known(server.process).pid]
    answering.kill()  # the server begins another in its place
    wait_for(lambda: not worker.is_running())
