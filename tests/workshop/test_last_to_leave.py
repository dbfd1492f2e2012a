"""The tests' database can be taken away whoever is still connected: by themselves if they go, else by our doing."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from django.db import connection

from tests.last_to_leave import end_other_sessions

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'postgresql'", reason="a file that is taken away asks nobody"),
]


@pytest.fixture(autouse=True)
def _alone() -> None:
    """What an earlier test left open, such as a page's last question, is not what is told here."""
    end_other_sessions(connection)


def _another() -> tuple[Callable[[], None], Callable[[], bool]]:
    other = connection.copy()
    other.inc_thread_sharing()
    other.ensure_connection()
    return other.close, lambda: other.connection is not None and other.is_usable()


def test_who_does_not_go_is_ended_and_told() -> None:
    close, works = _another()
    assert works()
    (told,) = end_other_sessions(connection, patience_s=0.3)
    assert told.startswith("idle (")
    assert not works()
    close()


def test_who_goes_by_himself_is_waited_for() -> None:
    close, works = _another()
    leaving = threading.Timer(0.5, close)
    leaving.start()
    assert end_other_sessions(connection, patience_s=30) == []
    leaving.join()
    assert not works()
