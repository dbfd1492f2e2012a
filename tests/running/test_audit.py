"""A look-up of the pinned packages says what it found, and never “clean” of what it did not look up."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import CommandError, call_command

from workshop.management.commands import audit as command
from workshop.running.auditing import CLEAN, FAULTY, NOT_CHECKED, read_report

SOUND = {"name": "sound", "version": "1.0", "vulns": []}
FAULT = {"id": "FAULT-2026-1", "fix_versions": ["1.1"], "description": ""}
FAULTS = {"name": "faulty", "version": "1.0", "vulns": [FAULT]}
UNKNOWN = {"name": "unknown", "skip_reason": "Dependency not found and could not be audited: unknown (1.0)"}


def report(*packages: dict[str, Any]) -> dict[str, Any]:
    """As pip-audit writes it with --format json."""
    return {"dependencies": list(packages), "fixes": []}


def test_all_looked_up_and_none_faulty_is_clean() -> None:
    found = read_report(report(SOUND, SOUND))
    assert (found.verdict, found.words) == (CLEAN, "Known faults: 0, in 2 packages looked up.")


def test_a_fault_is_named_with_the_version_that_mends_it() -> None:
    found = read_report(report(SOUND, FAULTS, UNKNOWN))
    assert found.verdict == FAULTY
    assert found.faults == ("faulty 1.0: FAULT-2026-1, mended in 1.1",)
    assert found.words == "Known faults: 1, in 2 packages looked up. Not checked: unknown."


def test_one_that_nobody_knows_is_not_called_clean() -> None:
    found = read_report(report(SOUND, UNKNOWN))
    assert found.verdict == NOT_CHECKED
    assert found.words == "Known faults: 0, in 1 packages looked up. Not checked: unknown."


@pytest.mark.parametrize("answer", [None, report(), report(UNKNOWN), {}])
def test_no_answer_is_not_called_clean(answer: dict[str, Any] | None) -> None:
    found = read_report(answer)
    assert found.verdict == NOT_CHECKED
    assert found.words.startswith("Not checked: no service")


@pytest.mark.parametrize(
    ("answer", "status"), [(None, NOT_CHECKED), (report(UNKNOWN), NOT_CHECKED), (report(FAULTS), FAULTY)]
)
def test_the_command_ends_with_the_verdict(monkeypatch: pytest.MonkeyPatch, answer: Any, status: int) -> None:
    monkeypatch.setattr(command, "ask", lambda folder, service: answer)
    with pytest.raises(CommandError) as ended:
        call_command("audit")
    assert ended.value.returncode == status


def test_the_command_says_that_all_is_clean(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(command, "ask", lambda folder, service: report(SOUND))
    call_command("audit")
    assert "Known faults: 0, in 1 packages looked up." in capsys.readouterr().out
