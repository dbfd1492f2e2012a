"""Work done apart: what takes too much is given up in words, and the next piece is done all the same."""

from __future__ import annotations

import errno
import logging
import os
import signal
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NoReturn

import psutil
import pytest

from tests.workshop.apart import pieces
from workshop.apart import working
from workshop.apart.inside import GROWN_BYTES, LESS_URGENT
from workshop.apart.kinds import KINDS, MB, PICTURES, PLACES, Kind
from workshop.apart.working import NotDone, TooBusy, TookTooLong, TookTooMuch, WorkerEnded, work_apart
from workshop.serving import size_for
from workshop.web.faults import FULL, words_for

pytestmark = pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is limited on Linux alone")
Make = Callable[..., Kind]
PATIENCE_S = 120


def wait_for(is_so: Callable[[], bool]) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < give_up
        time.sleep(0.02)


def full_disk() -> NoReturn:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_worker_is_another_process_limited_and_less_urgent(place_for: Make) -> None:
    kind = place_for()
    worker = work_apart(kind, pieces.who)
    most, behind = work_apart(kind, pieces.limits)
    assert worker != os.getpid()
    assert kind.memory_bytes < most < kind.memory_bytes + 4096 * MB
    assert behind >= LESS_URGENT
    assert work_apart(kind, pieces.who) == worker  # it stays for the next piece


def test_a_worker_that_most_days_want_is_there_before_its_first_piece(
    place_for: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    soon, later = place_for(key="soon", early=True), place_for(key="later")
    monkeypatch.setattr(working, "KINDS", (soon, later))
    working.begin_workers()
    wait_for(lambda: "begin soon" not in {one.name for one in threading.enumerate()})
    there = {one.pid for one in psutil.Process().children(recursive=True)}
    assert work_apart(soon, pieces.who) in there
    assert work_apart(later, pieces.who) not in there


def test_a_worker_that_cannot_be_begun_early_is_told_with_its_first_piece(
    place_for: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = working._workplaces()[place_for(early=True).key]
    monkeypatch.setattr(place, "_begin", full_disk)
    place.begin()
    with pytest.raises(OSError, match="space"):
        work_apart(place.kind, pieces.who)


def test_what_is_raised_there_is_raised_here(place_for: Make) -> None:
    kind = place_for()
    with pytest.raises(ValueError, match="a word"):
        work_apart(kind, pieces.raises_plain)
    with pytest.raises(RuntimeError, match="OddError: quite odd"):
        work_apart(kind, pieces.raises_odd)


def test_what_is_logged_there_is_logged_here_without_what_is_of_people(
    place_for: Make, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING):
        work_apart(place_for(), pieces.warns)
    assert [(one.name, one.getMessage()) for one in caplog.records] == [("weasyprint", "Ignored %s of Ada")]


def test_too_much_memory_is_said_and_the_next_piece_is_done(place_for: Make) -> None:
    kind = place_for()
    with pytest.raises(TookTooMuch, match=r"took more memory than one may have.* Choose a smaller one\."):
        work_apart(kind, pieces.takes, 4 * kind.memory_bytes)
    assert work_apart(kind, pieces.takes, MB) == MB


def test_too_much_time_is_said_and_the_next_piece_is_done(place_for: Make, tmp_path: Path) -> None:
    kind = place_for(within_s=0.2)
    with pytest.raises(TookTooLong, match="given up"):
        work_apart(kind, pieces.for_ever, str(tmp_path / "begun"))
    patient = place_for(key="patient")
    assert work_apart(patient, pieces.takes, MB) == MB
    assert all(one.pid == os.getpid() or one.is_running() for one in psutil.Process().children())


@pytest.mark.parametrize("how", [pieces.dies])
def test_a_worker_that_dies_is_said_and_the_next_piece_is_done(place_for: Make, how: Callable[[], None]) -> None:
    kind = place_for()
    with pytest.raises(WorkerEnded, match="broke off before it was done"):
        work_apart(kind, how)
    assert work_apart(kind, pieces.takes, MB) == MB


def test_a_worker_killed_while_it_has_nothing_to_do_is_made_anew(place_for: Make) -> None:
    """The first piece after it may be told so, the next is done."""
    kind = place_for()
    worker = work_apart(kind, pieces.who)
    os.kill(worker, signal.SIGKILL)
    wait_for(lambda: not psutil.pid_exists(worker))
    try:
        again = work_apart(kind, pieces.who)
    except WorkerEnded:
        again = work_apart(kind, pieces.who)
    assert again not in {worker, os.getpid()}


def test_a_worker_is_replaced_after_so_many_pieces(place_for: Make) -> None:
    kind = place_for(pieces=3)
    workers = [work_apart(kind, pieces.who) for _ in range(7)]
    assert [workers.count(one) for one in dict.fromkeys(workers)] == [3, 3, 1]


def test_a_worker_that_has_grown_is_replaced(place_for: Make) -> None:
    kind = place_for(memory_bytes=4 * GROWN_BYTES)
    large = work_apart(kind, pieces.keeps, GROWN_BYTES + 8 * MB)
    assert work_apart(kind, pieces.who) != large


def test_who_finds_all_places_taken_is_told_at_once(place_for: Make, tmp_path: Path) -> None:
    kind = place_for(places=2)
    begun, over = tmp_path / "begun", tmp_path / "over"
    with ThreadPoolExecutor(2) as threads:
        first = threads.submit(work_apart, kind, pieces.until, str(begun), str(over))
        try:
            wait_for(begun.exists)
            second = threads.submit(work_apart, kind, pieces.takes, MB)
            wait_for(lambda: working._workplaces()[kind.key]._places._value == 0)
            with pytest.raises(TooBusy, match=r"just now, and others wait\. Wait a moment"):
                work_apart(kind, pieces.takes, MB)
        finally:
            over.touch()
        assert (first.result(PATIENCE_S), second.result(PATIENCE_S)) == (str(begun), MB)
    assert work_apart(kind, pieces.takes, MB) == MB


def test_ending_the_workers_ends_what_they_work_on(place_for: Make, tmp_path: Path) -> None:
    kind, begun = place_for(), tmp_path / "begun"
    with ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(work_apart, kind, pieces.for_ever, str(begun))
        wait_for(begun.exists)
        working.end_workers()
        with pytest.raises(WorkerEnded):
            waiting.result(PATIENCE_S)


def test_a_full_disk_is_told_as_one_and_not_as_a_fault_of_what_was_sent(
    place_for: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A worker takes a few bytes of shared memory to begin with."""
    kind = place_for()

    def full(_: working.Workplace) -> Any:
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))

    with monkeypatch.context() as patch:
        patch.setattr(working.Workplace, "_begin", full)
        with pytest.raises(OSError, match="too large") as told:
            work_apart(kind, len, "abc")
    assert words_for(told.value) == FULL
    assert work_apart(kind, len, "abc") == 3


def test_without_processes_it_is_done_right_here() -> None:
    assert work_apart(PICTURES, pieces.who) == os.getpid()


def test_too_much_memory_right_here_is_said_too() -> None:
    def takes_all() -> None:
        raise MemoryError

    with pytest.raises(TookTooMuch):
        work_apart(PICTURES, takes_all)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
@pytest.mark.parametrize("reason", [TooBusy, TookTooLong, TookTooMuch, WorkerEnded])
def test_each_reason_is_a_sentence_and_can_be_sent_on(kind: Kind, reason: type[NotDone]) -> None:
    import pickle

    said: Any = pickle.loads(pickle.dumps(reason(kind)))  # noqa: S301  our own
    assert str(said).endswith(".")
    assert "{" not in str(said)
    assert said.kind == kind


def test_threads_that_wait_for_workers_leave_as_many_as_before_for_pages() -> None:
    assert size_for("django.db.backends.sqlite3").threads - PLACES == 4
    assert size_for("django.db.backends.postgresql").threads - PLACES == 6
