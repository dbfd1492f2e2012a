"""Checks that would notice: each wrong edit of the table is planted, and a check from outside ought to fail.

`manage.py test -m planted` plants all of them and prints a table; `PLANTED_PART=3` only each tenth from the third on,
which is how CI goes round. That every edit still fits its file is looked at in every run.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from queue import SimpleQueue

import pytest

from tests.planted import forge
from tests.planted.forge import BROKEN, FAILED, PASSED, ROOT
from tests.planted.table import CHECKS, PLANTED, Checks, Planted, checks_of

GOAL = 0.90


def test_every_edit_fits_its_file_once() -> None:
    for planted in PLANTED:
        assert (ROOT / planted.path).read_text(encoding="utf-8").count(planted.old) == 1, planted
        assert planted.old != planted.new


def test_every_check_that_is_named_is_there() -> None:
    for path, checks in CHECKS.items():
        assert (ROOT / path).exists(), path
        for named in (*checks.outside, *checks.house):
            assert (ROOT / named).exists(), named


@contextmanager
def a_forge() -> Iterator[subprocess.Popen[str]]:
    """A forge that waits for questions."""
    program = [sys.executable, str(Path(forge.__file__))]
    with subprocess.Popen(program, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()


def ask(process: subprocess.Popen[str], planted: Planted | None, targets: Sequence[str]) -> int:
    """Whether the targets pass with this edit planted, or with none."""
    assert process.stdin is not None
    assert process.stdout is not None
    question = [*(planted or ("", "", "")), list(targets)]
    process.stdin.write(json.dumps(question) + "\n")
    process.stdin.flush()
    return int(process.stdout.readline())


Question = tuple[Planted | None, Sequence[str]]


@pytest.fixture(scope="module")
def forges() -> Iterator[list[subprocess.Popen[str]]]:
    """One for each core, for all questions: what takes long to load is loaded once, and each question has its child."""
    with ExitStack() as stack:
        yield [stack.enter_context(a_forge()) for _ in range(os.cpu_count() or 1)]


def answers(forges: Sequence[subprocess.Popen[str]], questions: Sequence[Question]) -> list[int]:
    """Each question's answer, asked side by side."""
    free: SimpleQueue[subprocess.Popen[str]] = SimpleQueue()
    for process in forges:
        free.put(process)

    def answer(question: Question) -> int:
        process = free.get()
        try:
            return ask(process, *question)
        finally:
            free.put(process)

    with ThreadPoolExecutor(len(forges)) as threads:
        return list(threads.map(answer, questions))


def _wanted() -> list[Planted]:
    part = os.environ.get("PLANTED_PART")
    return list(PLANTED) if part is None else list(PLANTED[int(part) % 10 :: 10])


@pytest.mark.planted
@pytest.mark.parametrize("path", list(dict.fromkeys(planted.path for planted in PLANTED)))
def test_checks_notice_what_is_planted(
    path: str, forges: list[subprocess.Popen[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Of the edits of one file none is uncaught, and nine in ten are caught from outside alone."""
    wanted = [planted for planted in _wanted() if planted.path == path]
    if not wanted:
        pytest.skip("none of this file is in this part")
    checks = checks_of(path)
    for targets, status in _with_nothing_planted(forges, checks).items():
        assert status == PASSED, f"{targets} must pass with nothing planted"
    caught = _caught(forges, wanted, checks)
    by = list(caught.values())
    with capsys.disabled():
        counts = ", ".join(f"{by.count(whom)} {whom}" for whom in ("outside", "house", "nobody"))
        print(f"\n{path}: {len(by)} planted; caught by: {counts}")
        for planted, by_whom in caught.items():
            if by_whom != "outside":
                print(f"  {by_whom}: {planted.old!r} -> {planted.new!r}")
    assert "nobody" not in by
    assert by.count("outside") >= GOAL * len(by) - 1e-9


_PASSED_BEFORE: dict[tuple[str, ...], int] = {}


def _with_nothing_planted(forges: Sequence[subprocess.Popen[str]], checks: Checks) -> dict[tuple[str, ...], int]:
    """How each of the checks ends with nothing planted, asked once for all files that share it."""
    new = [targets for targets in (checks.outside, checks.house) if targets and targets not in _PASSED_BEFORE]
    _PASSED_BEFORE.update(zip(new, answers(forges, [(None, targets) for targets in new]), strict=True))
    return {targets: _PASSED_BEFORE[targets] for targets in (checks.outside, checks.house) if targets}


def _caught(forges: Sequence[subprocess.Popen[str]], wanted: Sequence[Planted], checks: Checks) -> dict[Planted, str]:
    """By whom each is caught: those of the house are asked where nobody outside noticed."""
    found = dict.fromkeys(wanted, "nobody")
    for by_whom, targets in (("outside", checks.outside), ("house", checks.house)):
        left = [planted for planted in wanted if found[planted] == "nobody"]
        for planted, status in zip(left, answers(forges, [(one, targets) for one in left if targets]), strict=False):
            assert status != BROKEN, f"{targets} did not run with {planted}"
            if status == FAILED:
                found[planted] = by_whom
    return found
