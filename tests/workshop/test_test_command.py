"""What `manage.py test` tells pytest."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import through_pgbouncer
from workshop.management.commands.test import (
    PURE,
    QUICK,
    TOO_DEAR_FOR_QUICK,
    TOO_SLOW_TRACED,
    TRIED_ELSEWHERE,
    pure_modules,
    pytest_arguments,
)

ROOT = Path(__file__).parents[2]


def test_without_arguments_everything_runs_on_the_cores_there_are() -> None:
    assert pytest_arguments([])[0] == "-n"
    assert not set(QUICK) & set(pytest_arguments([]))
    assert pytest_arguments([])[-1] == "--in-turn"


def test_all_of_it_asks_for_no_turn() -> None:
    assert pytest_arguments(["--all"]) == pytest_arguments([])[:-1]
    assert pytest_arguments(["--all", "-x"]) == [*pytest_arguments([])[:-1], "-x"]


def test_arguments_go_to_pytest_as_they_are() -> None:
    assert pytest_arguments(["tests/physics", "-x"]) == ["tests/physics", "-x"]


def test_quick_names_what_answers_soon_and_keeps_the_other_arguments() -> None:
    told = pytest_arguments(["--quick", "-x"])
    assert set(QUICK) < set(told)
    assert told[-1] == "-x"
    assert "--quick" not in told
    assert all((ROOT / path).exists() for path in QUICK)


def test_what_is_too_dear_for_quick_is_there_and_only_left_out_of_it() -> None:
    for dear in TOO_DEAR_FOR_QUICK:
        path, _, name = dear.partition("::")
        assert f"def {name}(" in (ROOT / path).read_text()
        assert f"--deselect={dear}" in pytest_arguments(["--quick"])
        assert f"--deselect={dear}" not in pytest_arguments([])


def test_coverage_runs_everything_and_has_a_floor() -> None:
    told = pytest_arguments(["--coverage"])
    assert told[0] == "-n"
    assert "--cov" in told
    (floor,) = [one.partition("=")[2] for one in told if one.startswith("--cov-fail-under=")]
    assert float(floor) >= 97
    assert not [one for one in told if one.startswith(("--ignore", "tests/"))]


def test_what_knows_no_django_is_measured_by_its_own_tests_with_a_floor() -> None:
    told = pytest_arguments(["--pure-coverage"])
    assert set(PURE) <= set(told)
    assert {f"--cov={name}" for name in ("specs.physics", "diagnosis.ordering", "diagnosis.judging")} <= set(told)
    (floor,) = [one.partition("=")[2] for one in told if one.startswith("--cov-fail-under=")]
    assert float(floor) >= 94
    assert all(_is_there(name) for name in (*pure_modules(), *TRIED_ELSEWHERE))
    path, _, name = TOO_SLOW_TRACED.partition("::")
    assert f"def {name}(" in (ROOT / path).read_text()


def _is_there(module: str) -> bool:
    path = ROOT / module.replace(".", "/")
    return path.is_dir() or path.with_suffix(".py").is_file()


def test_through_pgbouncer_nothing_is_tested_without_a_postgresql_to_pass_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DATABASE_URL", "sqlite:///shop.sqlite3")
    monkeypatch.setattr(through_pgbouncer, "pgbouncer_program", lambda: "pgbouncer")
    assert through_pgbouncer.main([]) == 4
    monkeypatch.setenv("DATABASE_URL", "postgres://postgres@127.0.0.1:1/postgres")
    monkeypatch.setattr(through_pgbouncer, "pgbouncer_program", lambda: None)
    assert through_pgbouncer.main([]) == 4
    said = capsys.readouterr().err
    assert said.count("nothing was tested") == 2
    assert "Debian: pgbouncer" in said
