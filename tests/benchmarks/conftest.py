"""One table of every ratio that the benchmarks measured, at the end of their run.

Ratios of two things measured in the same run say something on any machine, where seconds do not. Run them with
`python3 manage.py test -m benchmark`; `--full` measures growth and load at their full size. `--ratios FILE` writes the
table too, with the machine: as Markdown where the name ends in .md, else as JSON.
"""

from __future__ import annotations

import json
import os
import platform
import sqlite3
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest

from workshop.serving import usable_cores

MEASURED = pytest.StashKey[dict[str, float]]()


@pytest.fixture(scope="session", autouse=True)
def _commits_reach_the_disk() -> None:
    """A write is measured as a shop makes it, where other tests do not wait for the disk."""
    from django.db import connection

    if connection.vendor == "sqlite":
        options = connection.settings_dict["OPTIONS"]
        options["init_command"] = options["init_command"].replace("synchronous=OFF", "synchronous=FULL")
        connection.close()


@pytest.fixture
def ratios(pytestconfig: pytest.Config) -> Callable[[str, float], None]:
    """Report a ratio under a name that says what is divided by what: `ratios("general solvers / closed forms", 71)`."""
    measured = pytestconfig.stash.setdefault(MEASURED, {})

    def report(name: str, ratio: float) -> None:
        measured[name] = float(ratio)

    return report


@pytest.fixture(scope="session")
def full(pytestconfig: pytest.Config) -> bool:
    """Whether growth, load and memory are measured at 200,000 tickets, for five minutes, over 200 PDFs."""
    return bool(pytestconfig.getoption("full"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    measured = config.stash.get(MEASURED, {})
    if not measured:
        return
    terminalreporter.section("ratios")
    for name, ratio in sorted(measured.items()):
        terminalreporter.line(f"{ratio:10.4g}  {name}")
    target = config.getoption("ratios")
    if target is not None:
        target.write_text(_markdown(measured) if target.suffix == ".md" else _json(measured))
        terminalreporter.line(f"Written to {target}")


def machine() -> str:
    """What it was measured on: processor, cores that may be used, memory, Python, database."""
    lines = Path("/proc/cpuinfo").read_text().splitlines() if Path("/proc/cpuinfo").exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    processor = names[0] if names else platform.machine()
    memory = f"{psutil.virtual_memory().total / 1024**3:.0f} GB"
    return f"{processor}, {usable_cores()} cores, {memory}, Python {platform.python_version()}, {_database()}"


def _database() -> str:
    address = os.environ.get("DATABASE_URL", "")
    if not address.startswith("postgres"):
        return f"SQLite {sqlite3.sqlite_version}"
    import psycopg

    with psycopg.connect(address) as connection:
        return f"PostgreSQL {connection.info.server_version // 10_000}"


def _json(measured: dict[str, float]) -> str:
    return json.dumps({"machine": machine(), "ratios": measured}, indent=2, sort_keys=True) + "\n"


def _markdown(measured: dict[str, float]) -> str:
    rows = [f"| {name.replace('|', '/')} | {ratio:.3g} |" for name, ratio in sorted(measured.items())]
    return "\n".join([machine(), "", "| what / by what | ratio |", "|---|---|", *rows, ""])
