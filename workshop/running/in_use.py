"""Knowing whether the shop is being served, so that nobody takes its database away beneath it.

The lock belongs to the open file, so it ends with the server, however that ends.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings


class ShopInUse(Exception):
    """A server, a restore or an upgrade has the shop; it has to end first."""

    def __init__(self, by: str = "") -> None:
        who = f" ({by})" if by else ""
        super().__init__(f"The shop is in use: it is being served, restored or upgraded{who}. Stop that first.")


def hold_for_serving(where: str = "") -> int:
    """Note that this process alone serves the shop, also after it became the server program. Raises ShopInUse.

    Args:
        where: it is served, for the words that a second start is refused with.
    """
    descriptor = _open()
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        by = _by(descriptor)
        os.close(descriptor)
        raise ShopInUse(by) from error
    _note(descriptor, f"process {os.getpid()}{f' serves it on {where}' if where else ''}")
    os.set_inheritable(descriptor, True)
    return descriptor


def refuse_in_use() -> None:
    """Whether somebody has the shop, seen without making anything. Raises ShopInUse."""
    try:
        descriptor = os.open(_place(), os.O_RDWR)
    except OSError:
        return  # nobody ever had it here, or it cannot be opened, which holding it then says
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise ShopInUse(_by(descriptor)) from error
    finally:
        os.close(descriptor)


@contextmanager
def shop_to_oneself() -> Iterator[None]:
    """Keep servers away meanwhile. Raises ShopInUse."""
    descriptor = _open()
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        _note(descriptor, f"process {os.getpid()}")
        yield
    except BlockingIOError as error:
        raise ShopInUse(_by(descriptor)) from error
    finally:
        os.close(descriptor)


def _note(descriptor: int, who: str) -> None:
    """A full disk keeps nobody from holding it: the words are left out."""
    with contextlib.suppress(OSError):
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, who.encode(), 0)


def _by(descriptor: int) -> str:
    return os.pread(descriptor, 200, 0).decode(errors="replace").strip()


def _open() -> int:
    place = _place()
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    return os.open(place, os.O_RDWR | os.O_CREAT, 0o600)


def _place() -> Path:
    return Path(settings.DATA_DIR) / "in_use.lock"
