"""What the tests of faults report at the end of a run: injected, acknowledged, lost, and the words that were shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

PROPERTY = "fault"
Tell = Callable[..., None]


def teller(request: pytest.FixtureRequest) -> Tell:
    """`told("a fault", injected=3, acknowledged=40, words="…")`; `lost` is 0 unless said, for a loss fails the test."""

    def told(fault: str, *, injected: int = 1, acknowledged: int | str = "-", lost: int = 0, words: str) -> None:
        row = {"fault": fault, "injected": injected, "acknowledged": acknowledged, "lost": lost, "words": words}
        request.node.user_properties.append((PROPERTY, row))

    return told


def print_table(terminal: pytest.TerminalReporter) -> None:
    """The rows of whatever ran, also where workers ran it; of a test that failed, that it did."""
    rows = sorted(_rows(terminal), key=lambda row: str(row["fault"]))
    if not rows:
        return
    terminal.section("faults: injected, acknowledged, lost, words shown")
    width = max(len(str(row["fault"])) for row in rows)
    for row in rows:
        words = " ".join(str(row["words"]).split())
        terminal.write_line(
            f"{row['fault']:<{width}}  {row['injected']:>3}  {row['acknowledged']:>5}  {row['lost']:>3}  {words[:110]}"
        )


def _rows(terminal: pytest.TerminalReporter) -> Iterator[dict[str, Any]]:
    for outcome in ("passed", "failed"):
        for report in terminal.stats.get(outcome, []):
            for name, row in getattr(report, "user_properties", []):
                if name == PROPERTY:
                    yield row if outcome == "passed" else {**row, "lost": "?", "words": f"FAILED: {report.nodeid}"}
