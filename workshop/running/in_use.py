"""Knowing whether the shop is being served, so that nobody takes its database away beneath it.

On this machine by the lock of a file in its data folder, on the others of its PostgreSQL by a lock in the database
(`one_at_a_time.py`): who serves or backs up has it beside others, who restores or upgrades alone. Either lock ends with
its process, however that ends.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connections

from workshop.running.logs import MACHINE
from workshop.running.one_at_a_time import own_connection, take_lock, who_holds

THE_SHOP = "the shop"
_NAMED = 3


class ShopInUse(Exception):
    """A server, a restore or an upgrade has the shop; it has to end first."""

    def __init__(self, by: str = "") -> None:
        who = f" ({by})" if by else ""
        super().__init__(f"The shop is in use: it is being served, restored or upgraded{who}. Stop that first.")


class CannotBeSeen(ShopInUse):
    """Whether another machine has the shop is not known, so nobody takes it away."""

    def __init__(self) -> None:
        Exception.__init__(self, "Whether another machine has the shop cannot be seen: the database does not answer.")


def hold_for_serving(where: str = "") -> int:
    """Note that this process alone serves the shop on this machine, also after it became the server program.

    Args:
        where: it is served, for the words that a second start is refused with.

    Raises ShopInUse.
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
    """Whether somebody on this machine has the shop, seen without making anything. Raises ShopInUse."""
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
def shop_to_oneself(does: str = "has it to itself") -> Iterator[None]:
    """Keep servers away meanwhile, of this machine and of the others.

    Args:
        does: what this machine does with it, for the words that others are refused with.

    Raises ShopInUse; CannotBeSeen where the database does not answer.
    """
    descriptor = _open()
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise ShopInUse(_by(descriptor)) from error
        _note(descriptor, f"process {os.getpid()}")
        with _held_among_machines(does, with_others=False):
            yield
    finally:
        os.close(descriptor)


@contextmanager
def beside_others(does: str) -> Iterator[None]:
    """Work that may go on beside servers, and not while a machine restores or upgrades the shop.

    Nothing on SQLite, which one machine has. Raises ShopInUse; CannotBeSeen where the database does not answer.
    """
    with _held_among_machines(does, with_others=True):
        yield


def name_of_machine(does: str) -> str:
    """This machine and what it does, as others are told of it: in ASCII, which PostgreSQL keeps."""
    return f"{MACHINE} {does}".encode("ascii", "replace").decode()


@contextmanager
def _held_among_machines(does: str, *, with_others: bool) -> Iterator[None]:
    if connections["default"].vendor != "postgresql":
        yield
        return
    with contextlib.ExitStack() as held:
        try:
            own = held.enter_context(own_connection())
            if not take_lock(own, THE_SHOP, with_others=with_others, who=name_of_machine(does)):
                raise ShopInUse(", ".join(who_holds(own, THE_SHOP)[:_NAMED]) or "on another machine")
        except (DatabaseError, InterfaceError) as error:
            raise CannotBeSeen from error
        yield


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
