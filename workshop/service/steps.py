"""What installing, going back and removing are made of: steps that say what they do, only those that are needed."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from workshop.bootstrap import Environment
from workshop.service.environment import settings_in, with_setting
from workshop.service.machine import (
    ALONE,
    COMMAND,
    ON_THE_NETWORK,
    PYTHON,
    SERVICE,
    TIMERS,
    UNITS,
    USER,
    CannotInstall,
    Machine,
    copy_code,
    digest_of_code,
    settings_text,
    write,
)

REACHED = {
    ON_THE_NETWORK: "devices of its own network reach it by https (--this-machine-only: none does)",
    ALONE: "only this machine reaches it (--shop-network: tablets of its own network, too)",
}
_PROVIDE = "from workshop.bootstrap import provide; provide('serve', '{}')"
_METRICS = "from workshop.bootstrap import provide_extra; provide_extra('metrics')"


@dataclass(frozen=True)
class InstallStep:
    """What it does, in words, and the doing."""

    words: str
    do: Callable[[], None]


def install_steps(machine: Machine, source: Path, serve_options: str | None = None) -> list[InstallStep]:
    """The steps from what is there to the shop of `source` as a service; none where that is so already.

    `serve_options` is one of REACHED that somebody chose; None leaves settings that are there as they are.

    Raises CannotInstall where the machine has something else in the shop's place.
    """
    _refuse_anothers(machine)
    reached = _reached(machine, serve_options)
    ground = _ground(machine, serve_options or ON_THE_NETWORK)
    code = _code(machine, source)
    packages = [] if code else _packages(machine)
    return [
        *ground,
        *reached,
        *code,
        *packages,
        *_units(machine, source),
        *_started(machine, anew=bool(reached or packages)),
    ]


def back_steps(machine: Machine) -> list[InstallStep]:
    """Back to the code and the shop of before the last upgrade. Raises CannotInstall where there is none."""
    if not (machine.code_before / "manage.py").exists():
        raise CannotInstall(f"There is no earlier code in {machine.code_before}. Nothing was changed.")

    def put_back() -> None:
        machine.code.rename(machine.code_new)
        machine.code_before.rename(machine.code)
        shutil.rmtree(machine.code_new)

    return [
        *([InstallStep("Stop the shop.", lambda: _stop(machine))] if machine.is_booted else []),
        InstallStep("Back up what is here now, and put the shop of before the upgrade back.", lambda: _undo(machine)),
        InstallStep(f"Put the code of before back into {machine.code}.", put_back),
        *(_units(machine, machine.code_before) if (machine.code_before / ".examples").is_dir() else []),
        *([InstallStep("Start the shop.", lambda: _start(machine))] if machine.is_booted else []),
    ]


def remove_steps(machine: Machine, *, with_data: bool) -> list[InstallStep]:
    """Everything away that was installed; shop, backups, settings and user only where `with_data` says so."""
    steps = []
    if any(machine.is_enabled(name) for name in (SERVICE, *TIMERS)) and machine.has_systemctl:
        steps.append(InstallStep("Stop the shop and its timers, now and at each start.", lambda: _disable(machine)))
    places = [machine.unit(name) for name in UNITS]
    places += [machine.command, machine.code, machine.code_before, machine.code_new]
    if with_data:
        places += [machine.data, machine.backups, machine.settings]
    steps += [InstallStep(f"Delete {path}.", _delete(path)) for path in places if path.exists()]
    if with_data and machine.home_of_user is not None:
        steps.append(
            InstallStep(f"Delete the user {USER}.", lambda: machine.must("Deleting the user", "userdel", USER))
        )
    return steps


def _refuse_anothers(machine: Machine) -> None:
    home = machine.home_of_user
    if home is not None and home != "/var/lib/workshop":
        raise CannotInstall(f"This machine has a user {USER} of its own, whose home is {home}. Nothing was changed.")
    if machine.code.exists() and not (machine.code / "workshop" / "settings.py").exists():
        raise CannotInstall(f"Something else is in {machine.code}. Nothing was changed.")


def _reached(machine: Machine, serve_options: str | None) -> list[InstallStep]:
    """Another choice than the settings there are."""
    if serve_options is None or not machine.settings.exists():
        return []
    before = machine.settings.read_text()
    after = with_setting(before, "SERVE_OPTIONS", serve_options)
    if after == before:
        return []
    words = f"Set SERVE_OPTIONS={serve_options} in {machine.settings}: {REACHED[serve_options]}."
    return [InstallStep(words, lambda: write(machine.settings, after, 0o600))]


def _ground(machine: Machine, serve_options: str) -> list[InstallStep]:
    """User, folders, settings and command."""
    steps = []
    if machine.home_of_user is None:
        useradd = ("useradd", "--system", "--user-group", "--no-create-home", "--home-dir", "/var/lib/workshop")
        steps.append(
            InstallStep(
                f"Make the system user {USER}, as whom nobody can sign in.",
                lambda: machine.must("Making the user", *useradd, "--shell", "/usr/sbin/nologin", USER),
            )
        )
    for folder, what in ((machine.data, "the shop’s data"), (machine.backups, "its backups")):
        if not folder.is_dir():
            steps.append(InstallStep(f"Make {folder} for {what}, for that user alone.", _make_folder(machine, folder)))
    if not machine.settings.exists():
        steps.append(
            InstallStep(
                f"Write its settings to {machine.settings}: {REACHED[serve_options]}.",
                lambda: write(machine.settings, settings_text(serve_options), 0o600),
            )
        )
    if not _holds(machine.command, COMMAND):
        steps.append(
            InstallStep(
                f"Make the command {machine.command.name}, in {machine.command.parent}.",
                lambda: write(machine.command, COMMAND, 0o755),
            )
        )
    return steps


def _code(machine: Machine, source: Path) -> list[InstallStep]:
    if digest_of_code(source) == digest_of_code(machine.code):
        return []
    steps = [
        InstallStep(f"Copy the code to {machine.code_new}.", lambda: copy_code(source, machine.code_new)),
        InstallStep(
            "Install the packages it needs there, and Debian’s for PDFs and fonts.",
            lambda: _provide(machine, machine.code_new),
        ),
        *_for_metrics(machine),
    ]
    if not machine.code.exists():
        return [*steps, InstallStep(f"Move it to {machine.code}.", lambda: _move(machine.code_new, machine.code))]
    if machine.is_booted:
        steps.append(InstallStep("Stop the shop.", lambda: _stop(machine)))
    words = f"Put it into {machine.code}, keep the code of before in {machine.code_before}, back up and upgrade."
    return [*steps, InstallStep(words, lambda: _upgrade(machine))]


def _for_metrics(machine: Machine) -> list[InstallStep]:
    """The packages that a setting asks for on top: with it and without them nothing of the new code would start."""
    try:
        wanted = machine.settings.exists() and settings_in(machine.settings.read_text()).get("METRICS_TOKEN")
    except ValueError:  # a line that is no setting is told by what reads them all
        wanted = None
    if not wanted:
        return []
    return [
        InstallStep(
            "Install what METRICS_TOKEN needs there, too.",
            lambda: machine.must("Installing packages", PYTHON, "-c", _METRICS, folder=machine.code_new),
        )
    ]


def _packages(machine: Machine) -> list[InstallStep]:
    """Where the settings ask for more since the code was put in place."""
    wanted = _wanted_packages(machine)
    if wanted == "shop" or Environment(machine.code).holds(wanted):
        return []
    words = f"Install the packages that files in a bucket take into {machine.code}."
    return [InstallStep(words, lambda: _provide(machine, machine.code))]


def _provide(machine: Machine, folder: Path) -> None:
    machine.must("Installing packages", PYTHON, "-c", _PROVIDE.format(_wanted_packages(machine)), folder=folder)


def _wanted_packages(machine: Machine) -> str:
    """By the settings of the service, which whoever installs it does not have in their own environment."""
    try:
        return "bucket" if settings_in(machine.settings.read_text()).get("FILES_URL") else "shop"
    except (OSError, ValueError):
        return "shop"


def _upgrade(machine: Machine) -> None:
    """The new code in place and the shop brought up to it, or both as they were."""
    shutil.rmtree(machine.code_before, ignore_errors=True)
    machine.code.rename(machine.code_before)
    machine.code_new.rename(machine.code)
    if machine.run((PYTHON, str(machine.code / "manage.py"), "as_service", "upgrade"), None) == 0:
        return
    machine.code.rename(machine.code_new)
    machine.code_before.rename(machine.code)
    if machine.is_booted:
        _start(machine)
    raise CannotInstall("The upgrade failed: see the lines above. The code of before is in its place again.")


def _units(machine: Machine, source: Path) -> list[InstallStep]:
    texts = {name: (source / ".examples" / name).read_text() for name in UNITS}
    changed = [name for name, text in texts.items() if not _holds(machine.unit(name), text)]

    def write_them() -> None:
        for name in changed:
            write(machine.unit(name), texts[name], 0o644)
        if machine.is_booted:
            machine.must("Reading the services anew", "systemctl", "daemon-reload")

    folder = machine.unit(SERVICE).parent
    return [InstallStep(f"Write to {folder}: {', '.join(changed)}.", write_them)] if changed else []


def _started(machine: Machine, *, anew: bool) -> list[InstallStep]:
    """The service and the timers enabled, and started where systemd runs; `anew` also where they run already."""
    if not machine.has_systemctl:
        return []
    off = [name for name in (SERVICE, *TIMERS) if not machine.is_enabled(name)]
    steps = []
    if off:
        steps.append(
            InstallStep(
                f"Let these start with the machine: {', '.join(off)}.",
                lambda: machine.must("Enabling", "systemctl", "enable", *off),
            )
        )
    if machine.is_booted and (anew or machine.run(("systemctl", "is-active", "--quiet", SERVICE, *TIMERS), None)):
        steps.append(InstallStep("Start the shop and its timers.", lambda: _start(machine)))
    return steps


def _start(machine: Machine) -> None:
    machine.must("Starting the shop", "systemctl", "restart", SERVICE, *TIMERS)


def _stop(machine: Machine) -> None:
    machine.must("Stopping the shop", "systemctl", "stop", SERVICE, *TIMERS)


def _disable(machine: Machine) -> None:
    now = ["--now"] if machine.is_booted else []
    machine.must("Stopping the shop", "systemctl", "disable", *now, SERVICE, *TIMERS)


def _undo(machine: Machine) -> None:
    manage = str(machine.code / "manage.py")
    if machine.run((PYTHON, manage, "as_service", "upgrade", "--back"), None):
        if machine.is_booted:
            _start(machine)
        raise CannotInstall("The shop was not put back: see the lines above. Nothing was changed.")


def _make_folder(machine: Machine, folder: Path) -> Callable[[], None]:
    def make() -> None:
        folder.mkdir(mode=0o700, parents=True)
        machine.must("Giving it to the user", "chown", f"{USER}:{USER}", str(folder))

    return make


def _delete(path: Path) -> Callable[[], None]:
    return lambda: shutil.rmtree(path) if path.is_dir() else path.unlink()


def _move(source: Path, target: Path) -> None:
    source.rename(target)


def _holds(path: Path, content: str) -> bool:
    try:
        return path.read_text() == content
    except OSError:
        return False
