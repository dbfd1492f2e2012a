"""System packages on the first start: installed where that may be, else named in one line, never asked for twice."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from workshop import bootstrap, pdf_libraries, system_packages

LACKING = ["libpango-1.0-0", "chromium-headless-shell"]


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """A bare Debian with somebody at its keyboard; collects what is run, and after it nothing is missing."""
    commands: list[list[str]] = []

    def run(command: list[str], **rest: object) -> subprocess.CompletedProcess[bytes]:
        assert rest["stdin"] is subprocess.DEVNULL
        assert rest["timeout"]
        commands.append(command)
        return subprocess.CompletedProcess(command, 0, stdout=b"")

    def missing(purpose: str) -> list[str]:
        return [] if any("install" in command for command in commands) else LACKING

    monkeypatch.delenv(system_packages.REFUSED, raising=False)
    monkeypatch.setattr(system_packages, "missing", missing)
    monkeypatch.setattr(subprocess, "run", run)
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda question: pytest.fail(f"asked: {question}"))
    return commands


def as_user(monkeypatch: pytest.MonkeyPatch, uid: int, answer: str | None = None) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: uid)
    if answer is not None:
        monkeypatch.setattr("builtins.input", lambda question: answer)


def test_root_installs_without_a_question(
    ran: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    as_user(monkeypatch, 0)
    system_packages.provide_packages("tests", tmp_path / "stamp")
    assert [command[-1] for command in ran] == ["update", "chromium-headless-shell"]
    assert "DEBIAN_FRONTEND=noninteractive" in ran[1]
    assert "sudo" not in ran[1]
    assert {"-y", "libpango-1.0-0"} <= set(ran[1])


def test_others_are_asked_once_and_go_through_sudo(
    ran: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    as_user(monkeypatch, 1000, "y")
    system_packages.provide_packages("shop", tmp_path / "stamp")
    assert [command[0] for command in ran] == ["sudo", "sudo"]


def test_a_no_is_kept_and_says_what_to_type(
    ran: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    as_user(monkeypatch, 1000, "")
    system_packages.provide_packages("shop", tmp_path / "stamp")
    told = capsys.readouterr().err.splitlines()
    assert told == [f"Everything but PDFs works. For the rest, as root: {system_packages.to_type(LACKING)}"]
    monkeypatch.setattr("builtins.input", lambda question: pytest.fail("asked twice"))
    system_packages.provide_packages("shop", tmp_path / "stamp")
    assert ran == []
    with monkeypatch.context() as patch:  # another purpose is another question
        patch.setattr("builtins.input", lambda question: "y")
        patch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
        patch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
        system_packages.provide_packages("tests", tmp_path / "stamp")
    assert len(ran) == 2


def test_without_a_keyboard_nobody_is_asked(
    ran: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    as_user(monkeypatch, 1000)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    system_packages.provide_packages("tests", tmp_path / "stamp")
    assert ran == []
    assert "Tests that need them are skipped. For the rest, as root: apt-get install" in capsys.readouterr().err


def test_an_install_that_fails_is_told_and_the_start_goes_on(
    ran: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    as_user(monkeypatch, 0)
    offline = subprocess.CompletedProcess([], 100, stdout=b"E: no network\n")
    monkeypatch.setattr(subprocess, "run", lambda command, **rest: offline)
    system_packages.provide_packages("shop", tmp_path / "stamp")
    told = capsys.readouterr().err
    assert "E: no network" in told
    assert "as root: apt-get install" in told
    system_packages.provide_packages("shop", tmp_path / "stamp")
    assert capsys.readouterr().err == ""


def test_an_apt_that_hangs_is_given_up(
    ran: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def hang(command: list[str], **rest: float) -> None:
        raise subprocess.TimeoutExpired(command, rest["timeout"])

    as_user(monkeypatch, 0)
    monkeypatch.setattr(subprocess, "run", hang)
    system_packages.provide_packages("shop", tmp_path / "stamp")
    assert "timed out" in capsys.readouterr().err


def test_the_option_says_no_and_no_command_sees_it(ran: list[list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    as_user(monkeypatch, 0)
    monkeypatch.setenv(system_packages.REFUSED, "")
    monkeypatch.setattr(bootstrap.Environment, "serves_as_it_is", lambda home, packages: True)
    monkeypatch.delenv("OWN_ENVIRONMENT", raising=False)
    argv = ["manage.py", "demo", "--no-system-packages", "--port", "9000"]
    bootstrap.enter_environment(argv)
    assert argv == ["manage.py", "demo", "--port", "9000"]
    assert os.environ[system_packages.REFUSED] == "1"
    assert ran == []


@pytest.mark.parametrize(("command", "installs"), [("demo", True), ("serve", True), ("test", True), ("lint", False)])
def test_only_commands_that_are_better_for_them_install(
    ran: list[list[str]], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, command: str, installs: bool
) -> None:
    as_user(monkeypatch, 0)
    monkeypatch.setattr(bootstrap.Environment, "serves_as_it_is", lambda home, packages: True)
    monkeypatch.delenv("OWN_ENVIRONMENT", raising=False)
    monkeypatch.setattr(bootstrap, "__file__", str(tmp_path / "workshop" / "bootstrap.py"))
    bootstrap.enter_environment(["manage.py", command])
    assert bool(ran) is installs


def test_nothing_is_missing_for_the_tests_but_what_looks_say(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf_libraries, "missing_packages", lambda: ["libpango-1.0-0"])
    monkeypatch.setattr(pdf_libraries, "can_open", lambda library: False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(shutil, "which", lambda name: None)
    monkeypatch.delenv("CHROMIUM", raising=False)
    monkeypatch.setattr(system_packages, "_FONT_FOLDERS", ())
    monkeypatch.setitem(system_packages._LOOKS, "fonts-dejavu-core", system_packages._has_fonts)
    assert system_packages.missing("shop") == ["libpango-1.0-0", "fonts-dejavu-core"]
    browser, *rest = system_packages.missing("tests")[2:]
    assert browser == "chromium-headless-shell"
    assert rest == ["poppler-utils", "libatomic1", "openssl"]


def test_the_browser_without_windows_goes_before_others_and_any_will_do(monkeypatch: pytest.MonkeyPatch) -> None:
    there = {"chromium", "chromium-headless-shell"}
    monkeypatch.delenv("CHROMIUM", raising=False)
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}" if name in there else None)
    assert system_packages.browser() == "/usr/bin/chromium-headless-shell"
    there.remove("chromium-headless-shell")
    assert system_packages.browser() == "/usr/bin/chromium"
    assert "chromium-headless-shell" not in system_packages.missing("tests")
