"""What takes long to make, made once for the tests of a class: each begins with it, and leaves it as it was."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from pytest_django.plugin import DjangoDbBlocker


@contextmanager
def made_once(blocker: DjangoDbBlocker) -> Iterator[None]:
    """For a fixture of a class: rows made within are there for all its tests, and gone after the last.

    A test with `db` runs in a transaction of its own within this one. One with `transactional_db` may not be in the
    class: it would empty the tables under this.
    """
    with blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
