"""Set-up on the first start: what is made, what is mended, and what is said where it cannot be."""

from __future__ import annotations

import ast
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.in_a_thread import in_a_thread
from workshop import bootstrap

ROOT = Path(bootstrap.__file__).resolve().parent.parent


class Replaced(Exception):
    """Stands for the moment at which the process becomes another one."""


@pytest.fixture
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, ...]]:
    """A clone with small locks, started by a Python without the packages; collects the commands that set-up runs."""
    (tmp_path / "workshop").mkdir()
    requirements = tmp_path / ".requirements"
    requirements.mkdir()
    for name in ("shop", "metrics", "bucket", "tests"):
        (requirements / f"{name}.in").write_text(f"# why\na-package-nobody-has-{name}>=1\n")
        (requirements / f"{name}.lock").write_text(f"a-package-nobody-has-{name}==1.0 --hash=sha256:00\n")
    monkeypatch.setattr(bootstrap, "__file__", str(tmp_path / "workshop" / "bootstrap.py"))
    monkeypatch.delenv("OWN_ENVIRONMENT", raising=False)
    monkeypatch.delenv("FILES_URL", raising=False)
    ran: list[tuple[str, ...]] = []

    def run(command: tuple[str, ...], check: bool) -> subprocess.CompletedProcess[bytes]:
        ran.append(command)
        if "venv" in command:
            python = tmp_path / ".venv" / "bin" / "python"
            python.parent.mkdir(parents=True, exist_ok=True)
            python.touch()
            (tmp_path / ".venv" / "installed.json").unlink(missing_ok=True)  # --clear
        return subprocess.CompletedProcess(command, 0)

    def execv(path: str, argv: list[str]) -> None:
        raise Replaced(argv)

    monkeypatch.setattr(subprocess, "run", run)
    monkeypatch.setattr(os, "execv", execv)
    return ran


def start(*argv: str) -> list[str]:
    """The command line of the process that takes over."""
    with pytest.raises(Replaced) as replaced:
        bootstrap.enter_environment(["manage.py", *argv])
    command: list[str] = replaced.value.args[0]
    return command


def what(ran: list[tuple[str, ...]]) -> list[str]:
    """`venv`, or the lock that was installed, for each command."""
    return ["venv" if "venv" in command else Path(command[-1]).name for command in ran]


def test_the_first_start_makes_an_environment_and_goes_on_in_it(started: list[tuple[str, ...]], tmp_path: Path) -> None:
    python = str(tmp_path / ".venv" / "bin" / "python")
    assert start("demo", "--port", "9000") == [python, "manage.py", "demo", "--port", "9000"]
    assert what(started) == ["venv", "shop.lock"]
    assert started[1][0] == python
    assert {"--require-hashes", "--no-deps"} <= set(started[1])  # what the lock names, whatever came out since


def test_the_locks_name_all_that_their_packages_need() -> None:
    """What was installed from them without looking for dependencies; pip's own check is the judge."""
    check = [sys.executable, "-m", "pip", "check", "--disable-pip-version-check"]
    found = subprocess.run(check, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout


def test_later_starts_go_straight_on(started: list[tuple[str, ...]]) -> None:
    start("demo")
    started.clear()
    start("serve")
    assert started == []


@pytest.mark.parametrize("command", ["test", "lint", "lock"])
def test_checks_get_their_own_packages(started: list[tuple[str, ...]], command: str) -> None:
    start(command)
    assert what(started) == ["venv", "tests.lock"]


def test_the_packages_of_the_tests_are_added_and_serve_the_shop_too(started: list[tuple[str, ...]]) -> None:
    start("demo")
    start("test")
    start("demo")
    assert what(started) == ["venv", "shop.lock", "tests.lock"]


def test_a_shop_with_a_bucket_gets_what_that_takes(
    started: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    start("demo")
    monkeypatch.setenv("FILES_URL", "s3://files")
    start("serve")
    monkeypatch.delenv("FILES_URL")
    start("serve")  # what is there serves a shop without one, too
    assert what(started) == ["venv", "shop.lock", "bucket.lock"]


def test_a_changed_lock_is_installed(started: list[tuple[str, ...]], tmp_path: Path) -> None:
    start("demo")
    (tmp_path / ".requirements" / "shop.lock").write_text("a-package-nobody-has-shop==1.1 --hash=sha256:00\n")
    start("demo")
    assert what(started) == ["venv", "shop.lock", "shop.lock"]


def test_an_interrupted_install_begins_again(
    started: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    whole_run = subprocess.run

    def cut_off(command: tuple[str, ...], check: bool) -> subprocess.CompletedProcess[bytes]:
        if "pip" in command:
            raise KeyboardInterrupt
        return whole_run(command, check=check)

    monkeypatch.setattr(subprocess, "run", cut_off)
    with pytest.raises(KeyboardInterrupt):
        bootstrap.enter_environment(["manage.py", "demo"])
    assert not (tmp_path / ".venv" / "installed.json").exists()
    monkeypatch.setattr(subprocess, "run", whole_run)
    start("demo")
    assert what(started) == ["venv", "venv", "shop.lock"]


def test_an_interrupted_update_begins_again(
    started: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    start("demo")
    with monkeypatch.context() as patch:
        patch.setattr(subprocess, "run", lambda command, check: subprocess.CompletedProcess(command, 1))
        with pytest.raises(SystemExit) as ended:
            bootstrap.enter_environment(["manage.py", "test"])
    assert ended.value.code == 1
    assert "The next start begins it again" in capsys.readouterr().err
    started.clear()
    start("test")
    assert what(started) == ["venv", "tests.lock"]


def test_an_environment_of_another_python_is_made_anew(started: list[tuple[str, ...]], tmp_path: Path) -> None:
    start("demo")
    stamp = tmp_path / ".venv" / "installed.json"
    stamp.write_text(json.dumps(json.loads(stamp.read_text()) | {"python": "3.9"}))
    start("demo")
    assert what(started) == ["venv", "shop.lock", "venv", "shop.lock"]


def test_a_python_that_has_everything_is_left_alone(
    started: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bootstrap, "_is_installed", lambda name: True)
    bootstrap.enter_environment(["manage.py", "demo"])
    assert started == []


def test_an_environment_of_ones_own_is_left_alone(
    started: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("OWN_ENVIRONMENT", "1")
    with pytest.raises(SystemExit):
        bootstrap.enter_environment(["manage.py", "test"])
    assert (
        ", ".join(f"a-package-nobody-has-{name}" for name in ("shop", "metrics", "bucket", "tests"))
        in capsys.readouterr().err
    )
    monkeypatch.setattr(bootstrap, "_is_installed", lambda name: True)
    bootstrap.enter_environment(["manage.py", "test"])
    assert started == []


def test_a_missing_venv_module_is_named(
    started: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit):
        bootstrap.enter_environment(["manage.py", "demo"])
    assert "apt-get install python3-venv" in capsys.readouterr().err
    assert started == []


@pytest.mark.parametrize("version", [(3, 11), (3, 12), (3, 13)])
def test_supported_pythons_are_taken(version: tuple[int, int]) -> None:
    assert bootstrap.python_problem(version) == ""


@pytest.mark.parametrize("version", [(3, 9), (3, 10), (3, 14)])
def test_other_pythons_are_refused_by_name(version: tuple[int, int]) -> None:
    assert f"is Python {version[0]}.{version[1]}." in bootstrap.python_problem(version)


@pytest.mark.parametrize("name", ["manage.py", "workshop/bootstrap.py"])
def test_an_old_python_can_read_as_far_as_the_message(name: str) -> None:
    # In a thread: after a browser test, in whose greenlet it would run, Python 3.11 miscounts how deep the tree is.
    tree = in_a_thread(lambda: ast.parse((ROOT / name).read_text(), feature_version=(3, 8)))
    nodes = list(ast.walk(tree))
    modules = [node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)]
    modules += [alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names]
    assert {module.split(".")[0] for module in modules} - {"workshop", "django"} <= sys.stdlib_module_names


def test_the_locks_name_no_host_and_pin_every_package_by_hash() -> None:
    for lock in sorted((ROOT / ".requirements").glob("*.lock")):
        text = lock.read_text()
        assert "://" not in text
        assert "--index" not in text
        pins = [line for line in text.splitlines() if line and not line[0].isspace() and line[0] != "#"]
        assert pins
        assert all("==" in pin and pin.endswith("\\") for pin in pins), lock.name
