"""No test hangs for ever: setting up, the test and clearing away each end within a limit, as a failure like others.

A signal, since it ends in an exception of the test: what it started is cleared away, and the next test runs. Where it
cannot come through (a call into C that never returns), pytest's own faulthandler_timeout ends the process.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Generator
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn

import pytest

# Several times what the slowest was seen to take with a load of eighteen on two cores.
WITHIN_S = float(os.environ.get("TEST_WITHIN_S", "600"))


@contextmanager
def time_limit(what: str) -> Generator[None, None, None]:
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(signum: int, frame: FrameType | None) -> NoReturn:
        pytest.fail(f"{what} took more than {WITHIN_S:g} s.")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, WITHIN_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup() -> Generator[None, None, None]:
    with time_limit("Setting up"):
        return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call() -> Generator[None, None, None]:
    with time_limit("The test"):
        return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown() -> Generator[None, None, None]:
    with time_limit("Clearing away"):
        return (yield)
