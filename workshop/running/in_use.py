"""Knowing whether the shop is being served, so that nobody takes its database away beneath it.

The lock belongs to the open file, so it ends with the server, however that ends.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings


class ShopInUse(Exception):
    """A server, a restore or an upgrade has the shop; it has to end first."""

    def __init__(self) -> None:
        super().__init__("The shop is in use: it is being served, restored or upgraded. Stop that first.")


def hold_for_serving() -> int:
    """Note that this process serves the shop, also after it became the server program. Raises ShopInUse."""
    descriptor = _open()
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError as error:
        os.close(descriptor)
        raise ShopInUse from error
    os.set_inheritable(descriptor, True)
    return descriptor


@contextmanager
def shop_to_oneself() -> Iterator[None]:
    """Keep servers away meanwhile. Raises ShopInUse."""
    descriptor = _open()
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError as error:
        raise ShopInUse from error
    finally:
        os.close(descriptor)


def _open() -> int:
    folder = Path(settings.DATA_DIR)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return os.open(folder / "in_use.lock", os.O_RDWR | os.O_CREAT, 0o600)
