"""A server that other machines of its PostgreSQL see, for as long as it serves, so that none restores beneath it.

Each of its processes keeps the lock of `in_use.py` beside the others, looks now and then whether it still has it, and
takes it anew where the connection was lost. Where another machine restores or upgrades the shop meanwhile, the process
answers nobody until that is over.
"""

from __future__ import annotations

import contextlib
import os
import threading

from django.db import DatabaseError, InterfaceError, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.in_use import THE_SHOP, name_of_machine
from workshop.running.one_at_a_time import own_connection, take_lock

SERVED_ON = "SHOP_SERVED_ON"  # handed by `serve` to the server: address and port
LOOKS_EVERY_S = 2.0


class SeenServing:
    """What keeps the lock, in a thread of its own."""

    def __init__(self) -> None:
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self.has_it = False
        self.kept_out = False

    def begin(self) -> None:
        self._over.clear()
        self._thread = threading.Thread(target=self._go_on, name="seen serving", daemon=True)
        self._thread.start()

    def end(self) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join(timeout=10)
            self._thread = None

    def _go_on(self) -> None:
        where = os.environ.get(SERVED_ON, "")
        who = name_of_machine(f"serves it{f' on {where}' if where else ''}")
        while not self._over.is_set():
            with contextlib.suppress(DatabaseError, InterfaceError), own_connection() as own:
                self.has_it = take_lock(own, THE_SHOP, with_others=True, who=who)
                self.kept_out = not self.has_it
                if self.has_it:
                    self._stay(own)
            self.has_it = False
            self._over.wait(LOOKS_EVERY_S)

    def _stay(self, own: BaseDatabaseWrapper) -> None:
        """Until it is over, or the connection is lost."""
        while not self._over.wait(LOOKS_EVERY_S):
            with own.cursor() as cursor:
                cursor.execute("SELECT 1")


_seen = SeenServing()


def begin_being_seen() -> None:
    """From now on, in this process. On SQLite the lock of the file does it, for one machine."""
    if connections["default"].vendor == "postgresql":
        _seen.begin()


def end_being_seen() -> None:
    _seen.end()


def kept_out() -> bool:
    """Whether another machine restores or upgrades the shop."""
    return _seen.kept_out
