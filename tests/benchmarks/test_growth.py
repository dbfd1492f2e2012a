"""Every page of a shop after ten years against the same page in its first weeks, and searching while typing.

Two shops in two processes are asked in turn, and the processor time of their pages is compared: 6,000 tickets against
1,000 with every run of the benchmarks; with `--full` 200,000 against 1,000. Making the large one takes some minutes;
`BIG_SHOPS=FOLDER` keeps the databases of SQLite there for the next run, on PostgreSQL those beside the tests' own.
Both are equally old and had equally many tickets in their last two weeks, which the figures are asked for: what differs
is how much there is in all.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.benchmarks import databases
from tests.benchmarks.shop_process import FLOOR, ROOT, ShopProcess, in_turn

pytestmark = pytest.mark.benchmark
# What people type: parts of a name, phone, serial, number, words of the complaint; common and rare; short and odd.
TYPED = (
    "w", "e", "wr", "er", "10", "wren", "wrenfield hes", "hesper", "knocks", "demo", "01632 20", "1632", "h0001",
    "1234", "zzz",
)  # fmt: skip
TYPED_SHORT = ("e", "wren", "1234")
AIM = 1.3


@dataclass(frozen=True)
class Size:
    """A shop of twelve years that lately takes in three dozen tickets a day."""

    tickets: int

    @property
    def arguments(self) -> list[str]:
        sizes = {
            "tickets": self.tickets, "customers": self.tickets * 3 // 10, "units": self.tickets * 4 // 10,
            "lately": 500,
        }  # fmt: skip
        return [f"--{name}={size}" for name, size in sizes.items()]


@dataclass(frozen=True)
class Comparison:
    small: Size
    large: Size
    rounds: int


SHORT = Comparison(Size(1_000), Size(6_000), rounds=3)
FULL = Comparison(Size(1_000), Size(200_000), rounds=9)
Shops = tuple[ShopProcess, ShopProcess]


@pytest.fixture(scope="module")
def comparison(full: bool) -> Comparison:
    return FULL if full else SHORT


@pytest.fixture(scope="module")
def shops(tmp_path_factory: pytest.TempPathFactory, comparison: Comparison) -> Iterator[Shops]:
    """The small shop and the large one."""
    kept = os.environ.get("BIG_SHOPS")
    folder = Path(kept) if kept else tmp_path_factory.mktemp("shops")
    sizes = (comparison.small, comparison.large)
    processes = [ShopProcess(made(folder, size)) for size in sizes]
    yield processes[0], processes[1]
    for process in processes:
        process.close()
    if not kept:
        for size in sizes:
            if databases.named(_name(size)):
                databases.drop(_name(size))


def _name(size: Size) -> str:
    return f"shop_of_{size.tickets}"


def made(folder: Path, size: Size) -> dict[str, str]:
    """The environment of a shop of that size, made where it is not there."""
    name = _name(size)
    database = databases.named(name)
    data = folder / name
    data.mkdir(parents=True, exist_ok=True)
    environment = {
        "DATA_DIR": str(data), "HTTPS": "0", "OWN_ENVIRONMENT": "1", "ALLOWED_HOSTS": "testserver", **database,
    }  # fmt: skip
    done = data / ("made-on-postgresql" if database else "made")

    def manage(*arguments: str) -> None:
        command = [sys.executable, *arguments]
        subprocess.run(command, cwd=ROOT, env={**os.environ, **environment}, check=True)

    if done.exists() and (not database or databases.is_there(name)):
        manage("manage.py", "migrate", "-v0")
    else:
        if database:
            databases.make(name)
        manage("manage.py", "big_shop", *size.arguments)
        manage("-m", "tests.benchmarks.shop_process", "prepare")
        done.touch()
    manage("manage.py", "collectstatic", "--noinput", "-v0")
    return environment


def test_pages_do_not_grow(shops: Shops, comparison: Comparison, ratios: Callable[[str, float], None]) -> None:
    small, large = shops
    at_small, at_large = small.addresses(), large.addresses()
    assert set(at_small) == set(at_large)
    more = []
    for name, address in at_large.items():
        first, then = small.queries(at_small[name]), large.queries(address)
        if len(first) != len(then):
            more.append(f"{name}: {len(then)} queries in the large shop, {len(first)} in the small one")

        def measure(rounds: int, address: str = address, small_address: str = at_small[name]) -> float:
            return in_turn(lambda: large.seconds(address), lambda: small.seconds(small_address), rounds)

        measured = measure(comparison.rounds)
        if measured > AIM:  # then it counts what many rounds say, be it less or more
            measured = measure(4 * comparison.rounds)
        words = f"{comparison.large.tickets:,} tickets / {comparison.small.tickets:,}"
        ratios(f"growth, {words}: {name}", measured)
    assert not more, "\n".join(more)


def test_searching_while_typing(shops: Shops, comparison: Comparison, ratios: Callable[[str, float], None]) -> None:
    """Against a bare view of one indexed query and fifty rendered rows, in the same large shop."""
    _, large = shops
    for typed in TYPED if comparison is FULL else TYPED_SHORT:
        address = large.search(typed)
        measured = in_turn(
            lambda at=address: large.seconds(at, htmx=True),  # type: ignore[misc]
            lambda: large.seconds(FLOOR),
            comparison.rounds,
        )
        ratios(f"search, {comparison.large.tickets:,} tickets: “{typed}” / bare view of fifty rows", measured)
