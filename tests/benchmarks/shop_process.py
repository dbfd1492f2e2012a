"""A shop in a process of its own, so that a large and a small one can be asked in turn within one run.

`python -m tests.benchmarks.shop_process` answers a line of JSON with a line of JSON; the database is that of the
environment. `ShopProcess` is the other end. What is measured is processor time, so that a busy machine does not show:
that of the process, and on PostgreSQL also that of the server's process behind its connection.
"""

from __future__ import annotations

import functools
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

ROOT = Path(__file__).resolve().parents[2]
FLOOR = "floor"

# Written once a minute by whichever page comes then: no page's own.
_SEEN = 'UPDATE "workshop_opensession" SET "last_seen_at"'


class ShopProcess:
    """Asks the shop in the other process for pages, and hears what they cost there."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.shop_process"],
            cwd=ROOT,
            env={**os.environ, **environment},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def addresses(self) -> dict[str, str]:
        """Every page by its name."""
        answer: dict[str, str] = self._ask(addresses=True)
        return answer

    def search(self, typed: str) -> str:
        """The address that is asked while somebody types."""
        return str(self._ask(search=typed))

    def queries(self, address: str) -> list[str]:
        """The statements of a page."""
        answer: list[str] = self._ask(get=address, count=True)
        return answer

    def seconds(self, address: str, *, htmx: bool = False) -> float:
        """Processor time of a page."""
        return float(self._ask(get=address, htmx=htmx))

    def _ask(self, **question: Any) -> Any:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(question) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError(f"The shop's process ended with {self.process.wait()} at {question}.")
        return json.loads(line)

    def close(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(timeout=30)
        self.process.stdout.close()


def in_turn(first: Callable[[], float], second: Callable[[], float], rounds: int) -> float:
    """Median of how often the second goes into the first, each pair one after the other, in the same mood of a machine.

    One pair before them does not count.
    """
    first(), second()
    return statistics.median(first() / second() for _ in range(rounds))


def processor_clock() -> Callable[[], float]:
    """Seconds of processor time spent on this shop so far."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return time.process_time

    def with_the_server() -> float:
        connection.ensure_connection()
        server = Path(f"/proc/{connection.connection.info.backend_pid}/schedstat")
        return time.process_time() + int(server.read_text().split()[0]) / 1e9

    return with_the_server


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    import django

    django.setup()
    from django.db import connection
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse

    from tests.benchmarks.floor import Browser
    from tests.benchmarks.grown_pages import addresses, prepare
    from workshop.staff.models import User

    if sys.argv[1:] == ["prepare"]:
        prepare()
        return
    if connection.vendor == "postgresql":  # what parallel workers do is not seen by the clock
        with connection.cursor() as cursor:
            cursor.execute("SET max_parallel_workers_per_gather = 0")
    clock = processor_clock()
    browser, bare = Browser(User.objects.get(username="owner")), Browser(None, bare=True)

    def get(question: Mapping[str, Any]) -> Callable[[], object]:
        if question["get"] == FLOOR:
            return functools.partial(bare.get, "/fifty/")
        return functools.partial(browser.get, question["get"], htmx=question.get("htmx", False))

    for line in sys.stdin:
        question = json.loads(line)
        if "addresses" in question:
            answer: Any = addresses()
        elif "search" in question:
            answer = f"{reverse('counter:search')}?{urlencode({'q': question['search']})}"
        elif question.get("count"):
            get(question)()
            with CaptureQueriesContext(connection) as queries:
                get(question)()
            answer = [query["sql"] for query in queries.captured_queries if not query["sql"].startswith(_SEEN)]
        else:
            page, began = get(question), clock()
            page()
            answer = clock() - began
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
