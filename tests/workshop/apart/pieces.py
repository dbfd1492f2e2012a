"""Pieces of work for workers to do, some of them bad."""

from __future__ import annotations

import logging
import os
import resource
import signal
import time
from pathlib import Path


def who() -> int:
    """The process that does it."""
    return os.getpid()


def limits() -> tuple[int, int]:
    """Bytes of addresses it may reserve, and how far behind others it stands."""
    return resource.getrlimit(resource.RLIMIT_AS)[0], os.nice(0)


def for_ever(begun: str) -> None:
    Path(begun).touch()
    while True:
        time.sleep(0.05)


def until(begun: str, over: str) -> str:
    """Says that it began, and ends once `over` is there."""
    Path(begun).touch()
    while not Path(over).exists():
        time.sleep(0.01)
    return begun


def takes(size: int) -> int:
    """So much memory at once (bytes)."""
    return len(bytearray(size))


def keeps(size: int) -> int:
    """So much memory, and never gives it back (bytes)."""
    _KEPT.append(bytearray(os.urandom(1024) * (size // 1024)))
    return os.getpid()


_KEPT: list[bytearray] = []


def dies() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


class OddError(Exception):
    """Cannot go to another process."""

    def __init__(self, one: str, two: str) -> None:
        super().__init__(f"{one} {two}")


def raises_odd() -> None:
    raise OddError("quite", "odd")


def raises_plain() -> None:
    raise ValueError("a word")


def warns() -> None:
    logging.getLogger("weasyprint").warning("Ignored %s of Ada", "a name")
