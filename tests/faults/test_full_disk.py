"""A disk that takes no byte more, under a running server: writing is refused in words, reading goes on.

The limit on the size of files gives the same errors as a full disk to whoever writes, and needs no root.
"""

from __future__ import annotations

import os
import resource
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.faults.looking import look_through
from tests.faults.served import STEPS, Acknowledged, Place, Server, Staff, Work, a_photo, make_shop, served

WORDS = ("The disk is full", "The disk does not take what is written")


def processes_of(server: Server) -> list[int]:
    """Every process of its group."""
    assert server.process is not None
    found = []
    for pid in (int(name) for name in os.listdir("/proc") if name.isdigit()):
        try:
            if os.getpgid(pid) == server.process.pid:
                found.append(pid)
        except ProcessLookupError:
            continue
    return found


@contextmanager
def full_disk(server: Server) -> Iterator[None]:
    """No process of the server can write to any file, whatever its size."""
    processes = processes_of(server)
    assert len(processes) > 1
    before = {pid: resource.prlimit(pid, resource.RLIMIT_FSIZE) for pid in processes}
    for pid, (_, most) in before.items():
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (0, most))
    try:
        yield
    finally:
        for pid, limits in before.items():
            resource.prlimit(pid, resource.RLIMIT_FSIZE, limits)


@pytest.mark.django_db
def test_a_full_disk_is_said_everywhere_and_work_goes_on_afterwards(tmp_path: Path) -> None:
    place = Place(tmp_path / "shop")
    staff, kept = make_shop(place), Acknowledged()
    with served(place) as server:
        one_of_each(server, staff, kept)
        assert not kept.refused, (kept.refused, kept.titles)
        with full_disk(server):
            one_of_each(server, staff, kept)
            assert sorted(kept.refused) == ["book in 503", "photo 503", "receive 503", "take-back 503"], kept.titles
            assert kept.titles <= set(WORDS)
            look_at_large_photos(server, staff)
            look_at_signing_in(server)
            for path in ("/bench/", "/counter/", f"/stores/{staff.item}/", f"/bench/{staff.ticket}/"):
                assert server.ask("GET", path, staff.mechanic)[0] == 200, path
        kept.refused.clear()
        one_of_each(server, staff, kept)
        assert not kept.refused, (kept.refused, kept.titles)
    look_through(place, staff, kept, "after the disk was full")
    assert kept.counts() == (2, 2, 2, 2)


def one_of_each(server: Server, staff: Staff, kept: Acknowledged) -> None:
    """A tick, a booking, a delivery and a photo, each sent once."""
    work = Work(server, staff, kept)
    for job in (work._tablet, work._desk, work._stores, work._camera):
        next(job())()


def look_at_large_photos(server: Server, staff: Staff) -> None:
    """One that is too large for memory is put into a file before anything looks at it."""
    path = f"/bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/photo/"
    photo = a_photo(side_px=2400)
    assert photo.size is not None
    assert photo.size > 2.5 * 1024 * 1024
    sent = {"client_id": str(uuid.uuid4())}
    status, _, content = server.ask("POST", path, staff.mechanic, sent, htmx=True, photo=photo)
    assert status == 503
    assert any(words in content.decode() for words in WORDS)


def look_at_signing_in(server: Server) -> None:
    """A failed try is written down; where that cannot be, nobody comes in, and it is said."""
    status, _, content = server.ask("POST", "/sign-in/", sent={"username": "nobody", "password": "nothing at all"})
    assert status == 503
    assert any(words in content.decode() for words in WORDS)
