"""What answers is killed while it lays out a paper: the paper is there whole or not at all, and work goes on."""

from __future__ import annotations

import contextlib
import http.client
import os
import random
import signal
import threading
import time
from pathlib import Path

import pytest

from tests.faults.looking import look_through
from tests.faults.served import Acknowledged, Place, Server, Work, make_shop, served
from tests.faults.table import Tell
from tests.faults.test_full_disk import processes_of
from tests.known import known
from workshop.models import Document

pytestmark = pytest.mark.any_database  # its database is its own

RECOVERS_WITHIN_S = 300


def kill_all_but_the_first(server: Server) -> int:
    """What lays out is one of these, whichever: the first only starts others anew."""
    assert server.process is not None
    others = [pid for pid in processes_of(server) if pid != server.process.pid]
    for pid in others:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    return len(others)


@pytest.mark.django_db
def test_a_process_killed_in_a_pdf_leaves_no_half_paper(tmp_path: Path, told: Tell) -> None:
    place = Place(tmp_path / "shop")
    staff, kept = make_shop(place), Acknowledged()
    answers: list[int] = []
    with served(place) as server:

        def ask() -> None:
            with contextlib.suppress(OSError, http.client.HTTPException):
                path = f"/documents/{staff.ticket}/label/issue/"
                answers.append(server.ask("POST", path, staff.clerk, {"page": "1"})[0])

        asking = threading.Thread(target=ask)
        asking.start()
        time.sleep(random.uniform(0.1, 1))  # somewhere in it; what is asserted holds wherever
        killed = kill_all_but_the_first(server)  # once: twice within seconds is taken for a crash loop, and it ends
        asking.join(timeout=60)
        give_up = time.monotonic() + RECOVERS_WITHIN_S
        while not server.answers():
            assert time.monotonic() < give_up, "no new process answers"
            time.sleep(0.2)
        work = Work(server, staff, kept)
        for job in (work._tablet, work._desk):
            next(job())()
        assert not kept.refused, (kept.refused, kept.titles)
    look_through(place, staff, kept, "after processes were killed in a PDF")
    with place.records():
        papers = list(Document.objects.all())
        assert len(papers) >= answers.count(302)
        for paper in papers:
            content = (place.folder / "files" / known(paper.pdf.name)).read_bytes()
            assert content.startswith(b"%PDF-")
            assert b"%%EOF" in content[-64:]
    told(
        "process killed in a PDF",
        injected=killed,
        acknowledged=answers.count(302),
        words="no answer; the next one works",
    )
