"""A look-up of the pinned packages says what it found, and never “clean” of what it did not look up."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from workshop.management.commands import audit as command
from workshop.running.auditing import CLEAN, FAULTY, NOT_CHECKED, Accepted, BadException, read_accepted
from workshop.running.auditing import read_report as read_by_day

SOUND = {"name": "sound", "version": "1.0", "vulns": []}
FAULT = {"id": "FAULT-2026-1", "fix_versions": ["1.1"], "description": ""}
FAULTS = {"name": "faulty", "version": "1.0", "vulns": [FAULT]}
UNKNOWN = {"name": "unknown", "skip_reason": "Dependency not found and could not be audited: unknown (1.0)"}


UNMENDED = {"name": "faulty", "version": "1.0", "vulns": [{**FAULT, "fix_versions": []}]}
TODAY = dt.date(2026, 11, 30)


def read_report(answer: dict[str, Any] | None, *accepted: Accepted) -> Any:
    return read_by_day(answer, accepted, TODAY)


def accepted(fault: str, until: dt.date, package: str = "Faulty") -> Accepted:
    return Accepted(package, fault, "We never open a file of that kind.", until)


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


def test_a_fault_that_no_version_mends_is_told_and_fails_nothing() -> None:
    found = read_report(report(SOUND, UNMENDED))
    assert (found.verdict, found.faults) == (CLEAN, ())
    assert found.told == ("faulty 1.0: FAULT-2026-1, mended in no version yet",)
    assert found.words == "Known faults: 0, in 2 packages looked up. Besides, only told: 1."


def test_a_fault_is_let_through_with_a_reason_up_to_its_last_day() -> None:
    found = read_report(report(FAULTS), accepted("FAULT-2026-1", TODAY))
    assert found.verdict == CLEAN
    assert found.told[0].endswith("accepted until 2026-11-30: We never open a file of that kind.")


def test_a_fault_is_let_through_by_any_of_its_names() -> None:
    known_by_two = {**FAULTS, "vulns": [{**FAULT, "aliases": ["OTHER-7"]}]}
    assert read_report(report(known_by_two), accepted("OTHER-7", TODAY)).verdict == CLEAN


@pytest.mark.parametrize(
    "let",
    [accepted("FAULT-2026-1", TODAY - dt.timedelta(1)), accepted("FAULT-2026-1", TODAY, "other"), accepted("X", TODAY)],
)
def test_an_exception_that_ran_out_or_is_of_something_else_lets_nothing_through(let: Accepted) -> None:
    assert read_report(report(FAULTS), let).verdict == FAULTY


def test_an_exception_that_ran_out_fails_even_where_nothing_mends_it() -> None:
    found = read_report(report(UNMENDED), accepted("FAULT-2026-1", TODAY - dt.timedelta(1)))
    assert found.verdict == FAULTY
    assert found.faults[0].endswith("it was accepted until 2026-11-29")


ENTRY = '[[fault]]\npackage = "faulty"\nid = "X"\nreason = "None"\nuntil = 2026-12-31\n'


def test_an_accepted_fault_says_package_name_reason_and_day() -> None:
    assert read_accepted(ENTRY) == (Accepted("faulty", "X", "None", dt.date(2026, 12, 31)),)
    for line in ENTRY.splitlines()[1:]:
        with pytest.raises(BadException, match="needs package"):
            read_accepted(ENTRY.replace(line, ""))
    for wrong in (ENTRY.replace("2026-12-31", "2026-12-31T00:00:00"), ENTRY.replace('"None"', '" "'), "[[fault"):
        with pytest.raises(BadException):
            read_accepted(wrong)


def test_the_projects_own_list_can_be_read() -> None:
    assert isinstance(command.let_through(), tuple)


@pytest.mark.parametrize(("status", "ends"), [(0, 0), (1, 1), (3, 0), (2, 1), (124, 0)])
def test_ci_fails_on_a_fault_and_says_where_nobody_was_asked(status: int, ends: int, tmp_path: Path) -> None:
    """The lines of .ci/run that judge it, run with the audit's own end in place of the audit."""
    script = Path(settings.BASE_DIR, ".ci", "run").read_text()
    judging = re.search(r'^audit="no known fault".*?^esac\n', script, re.MULTILINE | re.DOTALL)
    assert judging is not None
    (tmp_path / "audit.log").write_text("what it said\n")
    run = f'set -e; work={tmp_path}; (exit {status}) & auditing=$!\n{judging[0]}printf "audit: %s" "$audit"'
    done = subprocess.run(["bash", "-c", run], capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == ends
    assert done.stdout.startswith("what it said")
    assert ("no known fault" in done.stdout) == (status == 0)
    assert ("NOT checked" in done.stdout) == (status in {3, 124})
