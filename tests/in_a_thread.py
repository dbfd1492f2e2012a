"""Work in a thread of its own, with its result or error: a browser test before it leaves an event loop in this one."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")


def in_a_thread(work: Callable[[], T]) -> T:
    """What `work` gives back; what it raises is raised here."""
    with ThreadPoolExecutor(max_workers=1) as threads:
        return threads.submit(work).result()
