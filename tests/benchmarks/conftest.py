"""One table of every ratio that the benchmarks measured, at the end of their run.

Ratios of two things measured in the same run say something on any machine, where seconds do not. Run them with
`python3 manage.py test -m benchmark`; `--ratios FILE` writes the table as JSON too.
"""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

MEASURED = pytest.StashKey[dict[str, float]]()


@pytest.fixture
def ratios(pytestconfig: pytest.Config) -> Callable[[str, float], None]:
    """Report a ratio under a name that says what is divided by what: `ratios("general solvers / closed forms", 71)`."""
    measured = pytestconfig.stash.setdefault(MEASURED, {})

    def report(name: str, ratio: float) -> None:
        measured[name] = float(ratio)

    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    measured = config.stash.get(MEASURED, {})
    if not measured:
        return
    terminalreporter.section("ratios")
    for name, ratio in sorted(measured.items()):
        terminalreporter.line(f"{ratio:10.4g}  {name}")
    target = config.getoption("ratios")
    if target is not None:
        target.write_text(json.dumps(measured, indent=2, sort_keys=True) + "\n")
        terminalreporter.line(f"Written to {target}")
