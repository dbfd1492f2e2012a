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
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from queue import SimpleQueue
from threading import Thread

import pytest

from tests.planted import forge
from tests.planted.forge import BROKEN, FAILED, PASSED, ROOT
from tests.planted.table import CHECKS, PLANTED, Checks, Planted, checks_of

GOAL = 0.90
FORGES = os.cpu_count() or 1


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


def _wanted() -> list[Planted]:
    part = os.environ.get("PLANTED_PART")
    return list(PLANTED) if part is None else list(PLANTED[int(part) % 10 :: 10])


@pytest.mark.planted
@pytest.mark.parametrize("path", list(dict.fromkeys(planted.path for planted in PLANTED)))
def test_checks_notice_what_is_planted(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Of the edits of one file none is uncaught, and from outside nine in ten, or all but one, are caught."""
    wanted = [planted for planted in _wanted() if planted.path == path]
    if not wanted:
        pytest.skip("none of this file is in this part")
    checks = checks_of(path)
    _must_pass_with_nothing_planted(checks)
    caught = _caught(wanted)
    by = list(caught.values())
    with capsys.disabled():
        counts = ", ".join(f"{by.count(whom)} {whom}" for whom in ("outside", "house", "nobody"))
        print(f"\n{path}: {len(by)} planted; caught by: {counts}")
        for planted, by_whom in caught.items():
            if by_whom != "outside":
                print(f"  {by_whom}: {planted.old!r} -> {planted.new!r}")
    assert "nobody" not in by
    assert by.count("outside") >= min(GOAL * len(by), len(by) - 1) - 1e-9


@cache
def _must_pass_with_nothing_planted(checks: Checks) -> None:
    with a_forge() as process:
        for targets in (checks.outside, checks.house):
            if targets:
                assert ask(process, None, targets) == PASSED, f"{targets} must pass with nothing planted"


def _caught(wanted: Sequence[Planted]) -> dict[Planted, str]:
    """By whom each is caught, asked of several forges side by side."""
    waiting: SimpleQueue[Planted] = SimpleQueue()
    for planted in wanted:
        waiting.put(planted)
    found: dict[Planted, str] = {}
    errors: list[BaseException] = []

    def work() -> None:
        try:
            with a_forge() as process:
                while not waiting.empty():
                    planted = waiting.get()
                    found[planted] = _caught_by(process, planted, checks_of(planted.path))
        except BaseException as error:
            errors.append(error)

    threads = [Thread(target=work) for _ in range(FORGES)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if errors:
        raise errors[0]
    return {planted: found[planted] for planted in wanted}


def _caught_by(process: subprocess.Popen[str], planted: Planted, checks: Checks) -> str:
    for by_whom, targets in (("outside", checks.outside), ("house", checks.house)):
        if targets:
            answer = ask(process, planted, targets)
            assert answer != BROKEN, f"{targets} did not run with {planted}"
            if answer == FAILED:
                return by_whom
    return "nobody"
