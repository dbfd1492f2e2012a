"""Sixteen tablets and four desks against the server as shipped, over loopback.

No error, no locked database, and each tick and booking that was acknowledged is there afterwards. A few seconds of it
run with the benchmarks; `manage.py test -m benchmark --full` runs five minutes and tells the times.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.databases import beside_the_tests
from tests.benchmarks.shop_process import ROOT
from tests.faults.served import Place, Server

TABLETS, DESKS = 16, 4
SHORT_S, FULL_S = 15, 300
NOTHING_WRONG = {"lost_ticks": [], "lost_bookings": [], "numbers_twice": 0, "sums_that_differ": []}


@pytest.mark.benchmark
def test_twenty_people_for_some_seconds(tmp_path: Path) -> None:
    work_for(SHORT_S, tmp_path)


@pytest.mark.benchmark
def test_twenty_people_for_five_minutes(tmp_path: Path, ratios: Callable[[str, float], None], full: bool) -> None:
    if not full:
        pytest.skip("five minutes of it with --full")
    stats = work_for(FULL_S, tmp_path)
    print()
    for kind, times in sorted(stats.items()):
        median, late = share(times, 0.5), share(times, 0.95)
        print(f"  {kind:<13} {sum(times.values()):6} requests, median {median:6.0f} ms, p95 {late:6.0f} ms")
        ratios(f"load, 16 tablets and 4 desks for five minutes: {kind}, 95th percentile / median", late / median)


def work_for(seconds: int, folder: Path) -> dict[str, dict[float, int]]:
    """Let everybody work, look for what went wrong, and return how often each kind of request took how long (ms)."""
    data, people, kept = folder / "data", folder / "people.json", folder / "kept.json"
    data.mkdir()
    with beside_the_tests("shop_under_load") as database:
        environment = {"DATA_DIR": str(data), "HTTPS": "0", "OWN_ENVIRONMENT": "1", **database}
        jobs = 1 + seconds // 15
        asked = {"tablets": TABLETS, "jobs_each": jobs, "desks": DESKS, "units_each": 1 + seconds // 2}
        people.write_text(json.dumps(_shop(environment, prepare=asked)))
        with _serving(data, database) as server:
            stats = _locust(server.port, seconds, people, kept)
        found = json.loads(kept.read_text())
        print(f"\n{len(found['ticked'])} ticks and {len(found['booked'])} bookings acknowledged in {seconds} s")
        assert "locked" not in (data / "server.log").read_text()
        assert not (data / "errors.jsonl").exists() or not (data / "errors.jsonl").read_text()
        assert found["ticked"]
        assert found["booked"]
        assert _shop(environment, check=found) == NOTHING_WRONG
    return stats


def share(times: Mapping[float, int], wanted: float) -> float:
    """The time within which this share of the requests was answered."""
    count, seen = sum(times.values()), 0
    for time in sorted(times):
        seen += times[time]
        if seen >= wanted * count:
            return time
    raise ValueError("no request")


@contextmanager
def _serving(data: Path, database: Mapping[str, str]) -> Iterator[Server]:
    server = Server(Place(data, database.get("DATABASE_URL", "")))
    try:
        server.start()
        yield server
    finally:
        server.kill()


def _locust(port: int, seconds: int, people: Path, kept: Path) -> dict[str, dict[float, int]]:
    done = subprocess.run(
        [
            *(sys.executable, "-m", "locust", "-f", "tests/benchmarks/load_users.py", "--headless", "--json"),
            *("--host", f"http://127.0.0.1:{port}", "--users", str(TABLETS + DESKS), "--spawn-rate", "20"),
            *(
                "--run-time",
                f"{seconds}s",
                "--stop-timeout",
                "30",
                "--exit-code-on-error",
                "0",
                "--loglevel",
                "WARNING",
            ),
        ],
        cwd=ROOT,
        env={**os.environ, "LOAD_PEOPLE": str(people), "LOAD_KEPT": str(kept), "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=seconds + 240,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    rows = json.loads(done.stdout)
    assert [row["name"] for row in rows if row["num_failures"]] == [], done.stderr[-3000:]
    return {row["name"]: {float(time): count for time, count in row["response_times"].items()} for row in rows}


def _shop(environment: Mapping[str, str], **asked: Any) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.load_shop"],
        cwd=ROOT,
        env={**os.environ, **environment},
        input=json.dumps(asked),
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer
