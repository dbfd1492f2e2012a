"""The shop under the load of a busy day: served as shipped, asked by Locust, and compared afterwards.

`under_load` serves an own shop in one of three ways (plain HTTP, TLS, behind a proxy), lets everybody of
tests/benchmarks/load_users.py work for some seconds, and returns what was acknowledged, what of it is not there, how
long each kind of request took and what the server held in memory meanwhile.
"""

from __future__ import annotations

import http.client
import json
import os
import ssl
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil

from tests.benchmarks.shop_process import ROOT
from tests.faults.served import Place, Server

WAYS = ("plain", "tls", "proxy")
TABLETS, DESKS, STRANGERS = 20, 4, 12
NOTHING_WRONG = {
    "lost_ticks": [],
    "lost_bookings": [],
    "lost_photos": [],
    "numbers_twice": 0,
    "sums_that_differ": [],
}
SAMPLED_EVERY_S = 0.5
# Seconds between two things that a person does: without a rest, so that the machine is full; and as a shop at its
# busiest, where a step takes minutes and hardly anybody ticks twice within ten seconds.
WITHOUT_REST, AS_A_SHOP = (0.3, 1.2), (8.0, 24.0)
# Devices that open their first page, a second: all of them at once where nobody rests, else one after the other.
ALL_AT_ONCE, ONE_BY_ONE = TABLETS + DESKS + STRANGERS, 0.5


@dataclass
class Outcome:
    """What a load left: times in ms by kind of request with how often each, ids acknowledged, memory in bytes."""

    way: str
    seconds: int
    rest_s: tuple[float, float]
    times: dict[str, dict[float, int]]
    failures: list[str]
    kept: dict[str, list[str]]
    wrong: dict[str, Any]
    memory: list[int] = field(default_factory=list)
    log: str = ""

    @property
    def lost(self) -> int:
        return sum(len(self.wrong[name]) for name in ("lost_ticks", "lost_bookings", "lost_photos"))

    @property
    def acknowledged(self) -> int:
        return sum(map(len, self.kept.values()))

    @property
    def growth(self) -> float:
        """Memory in the last quarter of the time over that of the second."""
        quarter = max(1, len(self.memory) // 4)
        second, last = self.memory[quarter : 2 * quarter], self.memory[-quarter:]
        return (sum(last) / len(last)) / (sum(second) / len(second))

    def rows(self) -> Iterator[tuple[str, int, float, float]]:
        """Kind, how many requests, median and 95th percentile in ms; the last row is all of them together."""
        everything: dict[float, int] = {}
        for kind, times in sorted(self.times.items()):
            yield kind, sum(times.values()), share(times, 0.5), share(times, 0.95)
            for took, count in times.items():
                everything[took] = everything.get(took, 0) + count
        yield "all", sum(everything.values()), share(everything, 0.5), share(everything, 0.95)


def share(times: Mapping[float, int], wanted: float) -> float:
    """The time within which this share of the requests was answered."""
    count, seen = sum(times.values()), 0
    for time in sorted(times):
        seen += times[time]
        if seen >= wanted * count:
            return time
    raise ValueError("no request")


def table_of(outcome: Outcome, database: str) -> str:
    """What was measured, for a person."""
    head = f"{outcome.way}, {database}, {outcome.seconds} s, {TABLETS} tablets, {DESKS} desks, {STRANGERS} strangers"
    head += f", each resting {outcome.rest_s[0]:g} to {outcome.rest_s[1]:g} s"
    lines = [head, f"  {'':<14}{'requests':>9}{'median ms':>11}{'p95 ms':>9}{'p95/median':>12}"]
    for kind, count, median, late in outcome.rows():
        lines.append(f"  {kind:<14}{count:>9}{median:>11.0f}{late:>9.0f}{late / max(median, 1):>12.1f}")
    kept = ", ".join(f"{len(ids)} {name}" for name, ids in outcome.kept.items())
    lines.append(f"  errors {len(outcome.failures)}; acknowledged {outcome.acknowledged} ({kept}), lost {outcome.lost}")
    memory = [size >> 20 for size in outcome.memory]
    if memory:
        lines.append(
            f"  memory MB: first {memory[0]}, most {max(memory)}, last {memory[-1]}; last quarter over second "
            f"{outcome.growth:.2f}"
        )
    return "\n".join(lines)


class TlsServer(Server):
    """The server with TLS of its own."""

    def __init__(self, place: Place, certificate: Path, key: Path, **environment: str) -> None:
        super().__init__(place, **environment)
        self.options = ("--certificate", str(certificate), "--key", str(key))
        self.trusts = ssl.create_default_context(cafile=str(certificate))

    def answers(self) -> bool:
        connection = http.client.HTTPSConnection("localhost", self.port, timeout=20, context=self.trusts)
        try:
            connection.request("GET", "/health")
            return connection.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()


class ProxiedServer(Server):
    """The server as it stands behind a proxy that does TLS."""

    options = ()


def under_load(
    place: Place,
    people: Mapping[str, Any],
    folder: Path,
    *,
    way: str,
    seconds: int,
    rest_s: tuple[float, float],
) -> Outcome:
    """Let everybody work in the shop at `place`, and look at what it kept."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "people.json").write_text(json.dumps(people))
    with ExitStack() as stack:
        server, host = stack.enter_context(_served(place, folder, way))
        memory = stack.enter_context(_watched(server))
        origin = host.replace("http:", "https:") if way == "proxy" else host
        times, failures = _locust(host, origin, seconds, rest_s, folder)
    found = json.loads((folder / "kept.json").read_text())
    wrong = ask_shop(place, check=found)
    log = (place.folder / "server.log").read_text()
    return Outcome(way, seconds, rest_s, times, failures, found, wrong, memory, log)


def ask_shop(place: Place, **asked: Any) -> dict[str, Any]:
    """Have something made or looked up in the shop, in a process of its own."""
    environment = {"DATA_DIR": str(place.folder), "HTTPS": "0", "OWN_ENVIRONMENT": "1"}
    environment |= {"DATABASE_URL": place.database_url} if place.database_url else {}
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "DJANGO_SETTINGS_MODULE"}}
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.load_shop"],
        cwd=ROOT,
        env=kept | environment,
        input=json.dumps(asked),
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


@contextmanager
def _served(place: Place, folder: Path, way: str) -> Iterator[tuple[Server, str]]:
    """The server, and the address that browsers use."""
    with ExitStack() as stack:
        if way == "tls":
            certificate, key = certificate_in(folder)
            server: Server = TlsServer(place, certificate, key)
        else:
            server = (ProxiedServer if way == "proxy" else Server)(place)
        stack.callback(server.kill)
        server.start()
        if way == "proxy":
            yield server, f"http://127.0.0.1:{stack.enter_context(proxy_to(server.port))}"
        else:
            yield server, f"{'https' if way == 'tls' else 'http'}://127.0.0.1:{server.port}"


@contextmanager
def proxy_to(port: int, *certificate: Path) -> Iterator[int]:
    """Its port; with a certificate and its key it does TLS. It ends also when whoever started it has died."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.benchmarks.load_proxy", str(port), *map(str, certificate)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            yield int(process.stdout.readline())
        finally:
            process.stdin.close()
            try:
                process.wait(timeout=60)
            finally:
                process.kill()


def certificate_in(folder: Path) -> tuple[Path, Path]:
    """A certificate for localhost, with its key."""
    certificate, key = folder / "chain.pem", folder / "key.pem"
    make = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    names = ["-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run([*make, *names], check=True, capture_output=True, timeout=60)
    return certificate, key


@contextmanager
def _watched(server: Server) -> Iterator[list[int]]:
    """Memory of the server's processes together, time and again, in bytes."""
    sizes: list[int] = []
    over = threading.Event()
    assert server.process is not None
    parent = psutil.Process(server.process.pid)

    def watch() -> None:
        while not over.wait(SAMPLED_EVERY_S):
            try:
                sizes.append(sum(one.memory_info().rss for one in (parent, *parent.children(recursive=True))))
            except psutil.Error:
                continue  # one that ended between the two

    watching = threading.Thread(target=watch)
    watching.start()
    try:
        yield sizes
    finally:
        over.set()
        watching.join()


def _locust(
    host: str, origin: str, seconds: int, rest_s: tuple[float, float], folder: Path
) -> tuple[dict[str, dict[float, int]], list[str]]:
    """Times by kind, and what failed in words."""
    users = TABLETS + DESKS + STRANGERS
    command = [sys.executable, "-m", "locust", "-f", "tests/benchmarks/load_users.py", "--headless", "--json"]
    come = ALL_AT_ONCE if rest_s == WITHOUT_REST else ONE_BY_ONE
    command += ["--host", host, "--users", str(users), "--spawn-rate", str(come), "--run-time", f"{seconds}s"]
    command += ["--stop-timeout", "60", "--exit-code-on-error", "0", "--loglevel", "WARNING"]
    ours = {"LOAD_PEOPLE": str(folder / "people.json"), "LOAD_KEPT": str(folder / "kept.json"), "LOAD_ORIGIN": origin}
    ours |= {"LOAD_REST_S": f"{rest_s[0]}-{rest_s[1]}", "LOAD_STRANGERS": str(STRANGERS), "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        command,
        cwd=ROOT,
        env={**os.environ, **ours},
        capture_output=True,
        text=True,
        timeout=seconds + 300,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    rows = json.loads(done.stdout)
    failed = [f"{row['name']}: {row['num_failures']}" for row in rows if row["num_failures"]]
    times = {row["name"]: {float(time): count for time, count in row["response_times"].items()} for row in rows}
    return times, [*failed, done.stderr[-3000:]] if failed else []
