"""Real threads at the same moment, each with its own connection to the configured database."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TypeVar

from django.db import connection

T = TypeVar("T")


def at_once(work: Callable[[int], T], people: int = 6) -> list[T]:
    """Run `work` for so many people at the same moment; what each came back with. An error of one is raised."""
    results: list[T] = []
    errors: list[BaseException] = []
    together = threading.Barrier(people)

    def one(number: int) -> None:
        try:
            together.wait(timeout=20)
            results.append(work(number))
        except BaseException as error:
            errors.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(number,)) for number in range(people)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    if errors:
        raise errors[0]
    return results
