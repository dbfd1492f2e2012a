"""Work done apart for real: workers are begun in a test that asks for it, and ended with it."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator
from dataclasses import replace
from multiprocessing import forkserver, resource_tracker
from typing import Any

import psutil
import pytest

from workshop.apart import working
from workshop.apart.kinds import MB, PICTURES, Kind
from workshop.apart.working import Workplace

SMALL = replace(PICTURES, key="small", memory_bytes=192 * MB, within_s=60, pieces=50, places=2, needs=(), early=False)
"""A kind whose worker begins quickly and has little memory."""


@pytest.fixture
def in_processes(settings: Any) -> Iterator[None]:
    """Work is done by workers; none is there afterwards, nor what makes them."""
    before = {one.pid for one in psutil.Process().children(recursive=True)}
    settings.WORK_IN_PROCESSES = True
    yield
    working.end_workers()
    assert multiprocessing.active_children() == []
    # Both stay for the life of a process, which is right for a server; a test leaves nothing behind.
    forkserver._forkserver._stop()  # type: ignore[attr-defined]
    resource_tracker._resource_tracker._stop()  # type: ignore[attr-defined]
    assert {one.pid for one in psutil.Process().children(recursive=True)} <= before


@pytest.fixture
def place_for(in_processes: None, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Kind]]:
    """A kind of limits of its own, such as `place_for(within_s=1)`; its worker is ended with the test."""
    made = dict(working._workplaces())

    def make(**limits: Any) -> Kind:
        kind = replace(SMALL, **limits)
        made[kind.key] = Workplace(kind)
        return kind

    with monkeypatch.context() as patch:
        patch.setattr(working, "_workplaces", lambda: made)
        patch.setattr(working, "PRELOADED", ["workshop.apart.inside"])
        yield make
        working.end_workers()
