"""What failed is told when it fails: a run that is broken off, or killed, says nothing at its end."""

from __future__ import annotations

import pytest


class FailingAtOnce:
    """A plugin of the process that prints, which the workers report to."""

    def __init__(self, config: pytest.Config) -> None:
        self.config = config

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        terminal = self.config.pluginmanager.get_plugin("terminalreporter")
        if report.failed and terminal is not None:
            terminal.ensure_newline()
            terminal.write_line(f"Failed just now ({report.when}): {report.nodeid}", red=True)
            terminal.write_line(report.longreprtext)
