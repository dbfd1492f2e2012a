"""The commands that run the tests, the linters and the locking."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from importlib.metadata import version
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from workshop.management import script_tools
from workshop.management.commands import lint, lock, test
from workshop.serving import usable_cores

EVERY_CHECK = (lint.LONGEST, *lint.CHECKS, *script_tools.script_checks())


class Replaced(Exception):
    """Stands for the moment at which the process becomes another one."""


@pytest.fixture
def replaced(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Runs `manage.py test` up to that moment; returns its command line and environment."""

    def execve(path: str, argv: list[str], environment: dict[str, str]) -> None:
        raise Replaced(argv, environment)

    monkeypatch.setattr(os, "execve", execve)
    monkeypatch.chdir(os.getcwd())  # and back again

    def run(*arguments: str) -> tuple[list[str], dict[str, str]]:
        with pytest.raises(Replaced) as moment:
            test.Command().run_from_argv(["manage.py", "test", *arguments])
        return moment.value.args[0], moment.value.args[1]

    return run


def test_everything_runs_on_the_cores_there_are(replaced: Any) -> None:
    argv, _ = replaced()
    on_all_cores = ["-n", str(min(usable_cores(), 4)), "--dist", "worksteal"]
    assert argv == [sys.executable, "-m", "pytest", *on_all_cores, "--in-turn"]


def test_arguments_go_to_pytest_as_they_are(replaced: Any) -> None:
    argv, _ = replaced("-m", "benchmark", "--ratios", "ratios.json")
    assert argv[3:] == ["-m", "benchmark", "--ratios", "ratios.json"]


def test_the_tests_set_their_own_settings(replaced: Any) -> None:
    assert "DJANGO_SETTINGS_MODULE" in os.environ
    _, environment = replaced()
    assert "DJANGO_SETTINGS_MODULE" not in environment


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> list[tuple[list[str], dict[str, str]]]:
    """Command lines and environments of the programs that would have been started, each ending well."""
    commands: list[tuple[list[str], dict[str, str]]] = []

    def run(command: Any, **options: Any) -> subprocess.CompletedProcess[bytes]:
        commands.append((list(command), options.get("env", {})))
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(subprocess, "run", run)
    return commands


@pytest.fixture
def tools_are_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(script_tools, "provide_script_tools", str)


def test_lint_runs_every_check_with_the_settings_of_a_new_shop(
    ran: list[tuple[list[str], dict[str, str]]], tools_are_there: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DEBUG", "1")
    call_command("lint")
    assert sorted(command for command, _ in ran) == sorted(map(list, EVERY_CHECK))
    for _, environment in ran:
        assert not {"DEBUG", "HTTPS", "SECRET_KEY"} & set(environment)
        assert environment["DATA_DIR"] != os.environ["DATA_DIR"]


@pytest.mark.parametrize("fails", ["mypy", "djlint"])
def test_one_failed_check_fails_lint_after_all_have_run(
    tools_are_there: None, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    ended: list[int] = []

    def run(command: Any, **options: Any) -> subprocess.CompletedProcess[bytes]:
        status = 1 if fails in command else 0
        ended.append(status)
        return subprocess.CompletedProcess(command, status, stdout=b"what mypy says")

    monkeypatch.setattr(subprocess, "run", run)
    said = StringIO()
    with pytest.raises(CommandError, match=rf"^Failed: python\S* .*{fails}"):
        call_command("lint", stdout=said)
    assert "what mypy says" in said.getvalue()  # the others say it themselves, at once
    assert len(ended) == len(EVERY_CHECK)


@pytest.fixture
def tools(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A folder with a lock, of which nothing is installed."""
    monkeypatch.setattr(script_tools, "FOLDER", tmp_path)
    (tmp_path / "package-lock.json").write_text("{}")
    return tmp_path


def npm_ends(monkeypatch: pytest.MonkeyPatch, tools: Path, status: int) -> list[list[str]]:
    """Stands for npm; what it was asked."""
    asked: list[list[str]] = []

    def run(command: Any, **options: Any) -> subprocess.CompletedProcess[str]:
        asked.append(list(command))
        (tools / "node_modules").mkdir(exist_ok=True)
        return subprocess.CompletedProcess(command, status, "", "\nnpm error code ENOTFOUND\nnpm error and more\n")

    monkeypatch.setattr(subprocess, "run", run)
    return asked


def test_what_checks_the_scripts_is_installed_once_and_again_after_a_new_lock(
    tools: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = npm_ends(monkeypatch, tools, 0)
    assert [script_tools.provide_script_tools(), script_tools.provide_script_tools()] == ["", ""]
    assert len(asked) == 1
    assert {"ci", "--ignore-scripts"} <= set(asked[0])
    (tools / "package-lock.json").write_text("{ }")
    assert script_tools.provide_script_tools() == ""
    assert len(asked) == 2


def test_a_try_that_did_not_finish_is_begun_again(tools: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    npm_ends(monkeypatch, tools, 1)
    assert "(npm error code ENOTFOUND)" in script_tools.provide_script_tools()
    asked = npm_ends(monkeypatch, tools, 0)
    assert script_tools.provide_script_tools() == ""
    assert len(asked) == 1


@pytest.mark.parametrize("in_ci", [False, True])
def test_without_the_tools_lint_says_so_in_a_line_and_fails_in_ci(
    in_ci: bool,
    ran: list[tuple[list[str], dict[str, str]]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(script_tools, "provide_script_tools", lambda: "no network")
    monkeypatch.delenv("CI", raising=False)
    if in_ci:
        monkeypatch.setenv("CI", "true")
        with pytest.raises(CommandError, match=r"^Failed: the scripts were not checked$"):
            call_command("lint")
    else:
        call_command("lint")
    assert capsys.readouterr().err.splitlines() == ["The scripts are not checked: no network."]
    assert sorted(command for command, _ in ran) == sorted(map(list, (lint.LONGEST, *lint.CHECKS)))


def test_the_lock_of_the_scripts_tools_names_no_registry() -> None:
    locked = json.loads((script_tools.FOLDER / "package-lock.json").read_text())["packages"]
    assert len(locked) > 2
    assert not [name for name, package in locked.items() if "resolved" in package]
    assert not [name for name, package in locked.items() if name and "integrity" not in package]


LOCKS = ("shop", "metrics", "bucket", "tests", "audit")


@pytest.fixture
def locks(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setattr(lock, "FOLDER", tmp_path)
    shutil.copy(lock.BASE / ".requirements" / "licences.toml", tmp_path)
    for name in LOCKS:
        (tmp_path / f"{name}.lock").write_text(f"segno=={version('segno')} --hash=sha256:{'0' * 64}\n")
    return tmp_path


def test_lock_keeps_pins_unless_asked(ran: list[tuple[list[str], dict[str, str]]], locks: Path) -> None:
    call_command("lock", verbosity=0)
    assert [command[-1] == "--upgrade" for command, _ in ran] == [False] * len(LOCKS)
    call_command("lock", upgrade=True, verbosity=0)
    assert [command[-1] == "--upgrade" for command, _ in ran[len(LOCKS) :]] == [True] * len(LOCKS)
    for command, _ in ran:
        assert {"--universal", "--generate-hashes", "--no-header", "--no-annotate"} <= set(command)


def test_lock_lists_the_parts_once_and_not_again_where_nothing_changed(
    ran: list[tuple[list[str], dict[str, str]]], locks: Path
) -> None:
    call_command("lock", verbosity=0)
    made = (locks / "sbom.cdx.json").read_text()
    assert f"pkg:pypi/segno@{version('segno')}" in made
    call_command("lock", verbosity=0)
    assert (locks / "sbom.cdx.json").read_text() == made


def test_lock_refuses_what_has_no_known_licence_and_leaves_the_list(
    ran: list[tuple[list[str], dict[str, str]]], locks: Path
) -> None:
    (locks / "shop.lock").write_text("made-up==1.0 --hash=sha256:00\n")
    with pytest.raises(CommandError, match=r"does not allow.*\nmade-up 1\.0: unknown"):
        call_command("lock", verbosity=0)
    assert not (locks / "sbom.cdx.json").exists()


def test_lock_refuses_a_host(ran: list[tuple[list[str], dict[str, str]]], locks: Path) -> None:
    (locks / "shop.lock").write_text("--index-url https://packages.example/simple\ndjango==5.2\n")
    with pytest.raises(CommandError, match=r"shop\.lock names a host"):
        call_command("lock")
