"""What `manage.py test` tells pytest."""

from __future__ import annotations

import re
from pathlib import Path

from workshop.management.commands.test import QUICK, WITHOUT_RECORDS, pytest_arguments

ROOT = Path(__file__).parents[2]


def test_without_arguments_everything_runs_on_the_cores_there_are() -> None:
    assert pytest_arguments([])[0] == "-n"
    assert not set(QUICK) & set(pytest_arguments([]))


def test_arguments_go_to_pytest_as_they_are() -> None:
    assert pytest_arguments(["tests/physics", "-x"]) == ["tests/physics", "-x"]


def test_quick_names_what_answers_soon_and_keeps_the_other_arguments() -> None:
    told = pytest_arguments(["--quick", "-x"])
    assert set(QUICK) < set(told)
    assert told[-1] == "-x"
    assert "--quick" not in told
    assert all((ROOT / path).exists() for path in QUICK)


def test_records_leaves_out_what_a_second_database_cannot_change() -> None:
    told = pytest_arguments(["--records", "-x"])
    assert told[0] == "-n"
    assert told[-1] == "-x"
    assert {f"--ignore={path}" for path in WITHOUT_RECORDS} < set(told)
    assert "--records" not in told


def test_nothing_that_records_leaves_out_asks_for_the_database() -> None:
    """pytest-django keeps a test that asks for none from every record; the store's browser only opens a page."""
    folders = [ROOT / path for path in WITHOUT_RECORDS if (ROOT / path).is_dir()]
    files = [file for folder in folders for file in folder.rglob("*.py")]
    assert len(files) > 40
    asking = re.compile(r"django_db|\b(transactional_)?db: None|live_server|client: Client")
    assert [file.name for file in files if asking.search(file.read_text())] == []
    assert all((ROOT / path).exists() for path in WITHOUT_RECORDS)


def test_coverage_runs_everything_and_has_a_floor() -> None:
    told = pytest_arguments(["--coverage"])
    assert told[0] == "-n"
    assert "--cov" in told
    (floor,) = [one.partition("=")[2] for one in told if one.startswith("--cov-fail-under=")]
    assert float(floor) >= 97
    assert not [one for one in told if one.startswith(("--ignore", "tests/"))]
