"""What happens in a worker: its limits are set once, then each piece of work is carried out and reported. No Django."""

from __future__ import annotations

import contextlib
import importlib
import io
import logging
import os
import pickle
import resource
import signal
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from workshop.apart.kinds import MB, Kind

GROWN_BYTES = 100 * MB
"""A worker that holds so much more after a piece than when it began is replaced."""
LESS_URGENT = 10  # in the order of `nice`: who answers requests comes first
ALONE_S = 30  # how long a worker outlives the limit of its piece, where nobody is left to stop it


@dataclass(frozen=True)
class Report:
    """What came of a piece: its value, or what it raised; what it logged; whether the worker grew too large."""

    value: Any = None
    raised: BaseException | None = None
    out_of_memory: bool = False
    said: Sequence[tuple[str, int, str]] = ()
    has_grown: bool = False


class _Worker:
    """Of this process: what it held when it began (bytes), and what was logged since the piece began."""

    began_bytes = 0
    said: list[tuple[str, int, str]] = []


class _Listening(logging.Handler):
    """Keeps warnings for the process that asked, whose handlers leave out what is of people."""

    def emit(self, record: logging.LogRecord) -> None:
        _Worker.said.append((record.name, record.levelno, str(record.msg)))


def begin_worker(kind: Kind) -> None:
    """Make this process a worker: what it needs is loaded, then memory is limited to what one piece may take."""
    os.nice(LESS_URGENT)
    load_modules(kind.needs)
    logging.getLogger().addHandler(_Listening(logging.WARNING))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    reserved_bytes, _Worker.began_bytes = memory_now()
    if reserved_bytes:
        most = reserved_bytes + kind.memory_bytes
        with contextlib.suppress(OSError, ValueError):  # the machine's own limit is lower
            resource.setrlimit(resource.RLIMIT_AS, (most, most))


def carry_out(
    function: Callable[..., Any], arguments: Sequence[Any], named: Mapping[str, Any], within_s: float
) -> Report:
    """One piece of work. Nothing is raised here: whoever asked raises it."""
    _Worker.said = []
    signal.alarm(int(within_s) + ALONE_S)
    try:
        value, raised = function(*arguments, **named), None
    except MemoryError:
        return Report(out_of_memory=True, said=_Worker.said, has_grown=True)
    except Exception as error:
        value, raised = None, _as_sent(error)
    finally:
        signal.alarm(0)
    has_grown = memory_now()[1] > _Worker.began_bytes + GROWN_BYTES
    return Report(value, raised, said=_Worker.said, has_grown=has_grown)


def load_modules(modules: Sequence[str]) -> None:
    """Import what is there; what is missing is said by the work that needs it."""
    for name in modules:
        with contextlib.suppress(Exception), contextlib.redirect_stdout(io.StringIO()):
            importlib.import_module(name)


def memory_now() -> tuple[int, int]:
    """Bytes of addresses that this process reserved, and of memory it holds; 0 on a system that does not say."""
    try:
        reserved, held = Path("/proc/self/statm").read_text().split()[:2]
    except OSError:
        return 0, 0
    page = resource.getpagesize()
    return int(reserved) * page, int(held) * page


def _as_sent(error: Exception) -> Exception:
    """An error as it can go to another process."""
    try:
        pickle.loads(pickle.dumps(error))  # noqa: S301  our own
    except Exception:
        return RuntimeError(f"{type(error).__name__}: {error}")
    return error
