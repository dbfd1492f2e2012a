"""Work that could take too much, handed to a worker of its kind: one piece at a time, few waiting, none for ever.

The pool, its restarts and its time limit are pebble's. The standard library's pool has no time limit, and with loky a
worker that is killed takes with it what the others work on; pebble stops one worker and tells who waited for it.
Workers come from a fork server: a fork of a process with threads may hang, and a fresh start loads for seconds.
"""

from __future__ import annotations

import contextlib
import errno
import logging
import multiprocessing
import os
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from functools import cache
from typing import ParamSpec, TypeVar, cast

from django.conf import settings
from pebble import ProcessPool

from workshop.apart.inside import Report, begin_worker, carry_out
from workshop.apart.kinds import KINDS, Kind

P = ParamSpec("P")
R = TypeVar("R")
PRELOADED = ["workshop.apart.preloaded"]
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
STARTS_WITHIN_S = 60  # loading on a busy machine; a piece's own limit counts from when it is begun


class NotDone(Exception):
    """A piece of work that was not done, and what to do, in words."""

    says = ""
    is_a_fault = True  # of the shop's, which its owner has to hear of

    def __init__(self, kind: Kind) -> None:
        super().__init__(self.says.format(kind=kind))
        self.kind = kind

    def __reduce__(self) -> tuple[type[NotDone], tuple[Kind]]:
        return type(self), (self.kind,)


class TooBusy(NotDone):
    """So many wait already that no more are taken."""

    says = "{kind.doing} just now, and others wait. Wait a moment, then send it again."
    is_a_fault = False


class TookTooLong(NotDone):
    """It was stopped at its limit of time."""

    says = "{kind.it} took longer than {kind.within_s:.0f} seconds, so it was given up. {kind.smaller}"


class TookTooMuch(NotDone):
    """It came to its limit of memory."""

    says = "{kind.it} took more memory than one may have, so it was given up. {kind.smaller}"


class WorkerEnded(NotDone):
    """The worker was killed, or broke."""

    says = "{kind.it} broke off before it was done. Try once more; if that does not help: {kind.smaller}"


def work_apart(kind: Kind, function: Callable[P, R], *arguments: P.args, **named: P.kwargs) -> R:
    """What `function` returns or raises, called in a worker of this kind; its arguments and result are pickled.

    With WORK_IN_PROCESSES off it is called right here, with no limit.

    Raises:
        NotDone: TooBusy, TookTooLong, TookTooMuch or WorkerEnded; nothing came of it.
    """
    if not settings.WORK_IN_PROCESSES:
        try:
            return function(*arguments, **named)
        except MemoryError:
            raise TookTooMuch(kind) from None
    report = _workplaces()[kind.key].work(function, arguments, named)
    for logger, level, message in report.said:
        logging.getLogger(logger).log(level, message)
    if report.out_of_memory:
        raise TookTooMuch(kind)
    if report.raised is not None:
        raise report.raised
    return cast(R, report.value)


def begin_workers() -> None:
    """Begin the workers that most days want, beside the requests, so that nobody waits for the first of its kind."""
    if settings.WORK_IN_PROCESSES:
        for kind in KINDS:
            if kind.early:
                begins = threading.Thread(target=_workplaces()[kind.key].begin, name=f"begin {kind.key}", daemon=True)
                begins.start()


def end_workers() -> None:
    """End every worker of this process. One that is wanted later is begun anew."""
    for workplace in _workplaces().values():
        workplace.end()


class Workplace:
    """The worker of one kind, begun when first wanted or before, and those who wait for it."""

    def __init__(self, kind: Kind) -> None:
        self.kind = kind
        self._places = threading.BoundedSemaphore(kind.places)
        self._turn = threading.Lock()
        self._ending = threading.Lock()
        self._pool: ProcessPool | None = None
        self._under_way: Future[Report] | None = None

    def work(self, function: Callable[..., object], arguments: tuple[object, ...], named: dict[str, object]) -> Report:
        """Raises NotDone."""
        if not self._places.acquire(blocking=False):
            raise TooBusy(self.kind)
        try:
            with self._turn:
                return self._carry_out(function, arguments, named)
        finally:
            self._places.release()

    def begin(self) -> None:
        """Have the worker there before it is wanted. Where that fails, it is begun and told with the first piece."""
        with contextlib.suppress(NotDone, OSError):
            self.work(bool, (), {})

    def end(self) -> None:
        """Stop the worker, and what it works on."""
        under_way = self._under_way
        if under_way is not None:
            under_way.cancel()
        self._end_pool()

    def _carry_out(
        self, function: Callable[..., object], arguments: tuple[object, ...], named: dict[str, object]
    ) -> Report:
        within_s = self.kind.within_s
        try:
            pool = self._pool = self._pool or self._begin()
            self._under_way = pool.schedule(carry_out, (function, arguments, named, within_s), timeout=within_s)
            report: Report = self._under_way.result(within_s + STARTS_WITHIN_S)
        except TimeoutError:
            self._end_pool()
            raise TookTooLong(self.kind) from None
        except (OSError, RuntimeError, CancelledError) as error:  # what pebble raises of a worker or pool that is gone
            self._end_pool()
            if isinstance(error, OSError) and error.errno in _FULL:
                raise  # no worker can be begun, whatever was sent: told as any full disk
            raise WorkerEnded(self.kind) from error
        finally:
            self._under_way = None
        if report.has_grown:
            self._end_pool()
        return report

    def _begin(self) -> ProcessPool:
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(PRELOADED)
        kind = self.kind
        return ProcessPool(1, max_tasks=kind.pieces, initializer=begin_worker, initargs=(kind,), context=context)

    def _end_pool(self) -> None:
        with self._ending:
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()


@cache
def _workplaces() -> dict[str, Workplace]:
    return {kind.key: Workplace(kind) for kind in KINDS}


os.register_at_fork(after_in_child=_workplaces.cache_clear)  # a pool belongs to the process that began it
