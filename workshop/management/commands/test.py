"""`manage.py test`: the tests, run by pytest."""

from __future__ import annotations

import os
import sys
import tomllib
from typing import Any, NoReturn

from django.conf import settings
from django.core.management.base import BaseCommand

from workshop.serving import usable_cores

MOST_PROCESSES = 4  # more of them wait for one disk
THROUGH_PGBOUNCER = "--through-pgbouncer"
_EXPLORING = "tests/checklists/test_exploring.py::"
# Rules without a database, the checklists, the checks against what is published, and every screen opened once.
QUICK = (
    "tests/physics",
    "tests/published",
    "tests/diagnosis_pure",
    "tests/checklists",
    "tests/workshop/test_every_screen.py",
)
# Most of what exploring takes: the lists alone and in pairs, and whether the explorer finds what is planted in them.
# Whoever changes a list runs tests/checklists.
TOO_DEAR_FOR_QUICK = (
    _EXPLORING + "test_no_state_of_a_shipped_checklist_breaks_a_rule",
    _EXPLORING + "test_nor_does_any_of_two_checklists_worked_as_one_job",
    _EXPLORING + "test_a_planted_slip_is_found_by_name_with_a_way_that_leads_there",
)
COVERED_PERCENT = 97  # of lines and branches of what pyproject.toml includes; it may only rise
# What CI measures, since traced everything takes three times as long: what knows no Django, by the tests beside it.
# The floor may only rise.
PURE = ("tests/physics", "tests/published", "tests/diagnosis_pure", "tests/specs/test_sides.py")
PURE_COVERED_PERCENT = 97
# Their tests are in tests/specs and tests/checklists, which ask a database or go through every state for minutes.
TRIED_ELSEWHERE = (
    "specs.units",
    "specs.quantities",
    "diagnosis.layout",
    "diagnosis.layout_safeguards",
    "diagnosis.drafts",
    "diagnosis.checking",
    "diagnosis.exploring",
    "diagnosis.exploring_back",
    "diagnosis.exploring_order",
    "diagnosis.fact_combinations",
    "diagnosis.state_space",
    "diagnosis.unit_invariants",
)
TOO_SLOW_TRACED = "tests/published/test_measured_fork.py::test_the_fit_takes_less_than_a_second"


def pure_modules() -> list[str]:
    """What knows no Django, by the contract that holds it, but for what is tried elsewhere."""
    contracts = tomllib.loads((settings.BASE_DIR / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    (modules,) = [one["source_modules"] for one in contracts if one["type"] == "forbidden"]
    return [name for name in modules if name not in TRIED_ELSEWHERE]


def pytest_arguments(given: list[str]) -> list[str]:
    """What pytest is told: what was given, and otherwise everything, on the cores there are, what is dear in its turn.

    `--all` stands for everything whose turn it is or not, `--quick` for the part that answers within a minute,
    `--coverage` for everything with its coverage, which has a floor, `--pure-coverage` for what knows no Django, with a
    floor of its own. A process that has run out of tests takes some of another's: those with a browser come in slow
    rows.
    """
    on_all_cores = ["-n", str(min(usable_cores(), MOST_PROCESSES)), "--dist", "worksteal"]
    stand_for = {
        "--all": (),
        "--quick": ("--in-turn", *QUICK, *(f"--deselect={dear}" for dear in TOO_DEAR_FOR_QUICK)),
        "--coverage": ("--cov", "--cov-report=term-missing:skip-covered", f"--cov-fail-under={COVERED_PERCENT}"),
        "--pure-coverage": (
            *PURE,
            f"--deselect={TOO_SLOW_TRACED}",
            *(f"--cov={name}" for name in pure_modules()),
            "--cov-report=term-missing:skip-covered",
            f"--cov-fail-under={PURE_COVERED_PERCENT}",
        ),
    }
    named = [name for name in stand_for if name in given]
    if named:
        rest = [argument for argument in given if argument not in stand_for]
        return [*on_all_cores, *(told for name in named for told in stand_for[name]), *rest]
    return given or [*on_all_cores, "--in-turn"]


class Command(BaseCommand):
    help = (
        "Run the tests. Arguments go to pytest; without any, everything runs, on as many cores as there are, of the "
        "dearest tests a part each day (tests/in_turn.py); --all runs all of them, "
        "--through-pgbouncer has PostgreSQL through PgBouncer, "
        "--quick runs what answers within a minute, --coverage everything with its coverage and the floor that it must "
        "reach, --pure-coverage the same of what knows no Django."
    )
    requires_system_checks = []

    def run_from_argv(self, argv: list[str]) -> NoReturn:
        given = [argument for argument in argv[2:] if argument != THROUGH_PGBOUNCER]
        arguments, runner = pytest_arguments(given), "pytest" if given == argv[2:] else "tests.through_pgbouncer"
        os.chdir(settings.BASE_DIR)
        environment = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}
        sys.stdout.flush()
        os.execve(sys.executable, [sys.executable, "-m", runner, *arguments], environment)  # noqa: S606  pytest

    def handle(self, *args: Any, **options: Any) -> None:
        raise NotImplementedError("pytest takes over the process: run it from the command line.")
