"""`manage.py install_service`: the shop as a service of this machine, on Debian and Ubuntu; and its commands there.

It says what it would do, asks, and does it; where everything is done already it does nothing.
"""

from __future__ import annotations

import argparse
import fcntl
import os
import pwd
import ssl
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from workshop.bootstrap import say, stop
from workshop.service.environment import settings_in
from workshop.service.machine import ALONE, ON_THE_NETWORK, USER, CannotInstall, Machine
from workshop.service.reached import reached_in
from workshop.service.steps import InstallStep, back_steps, install_steps, remove_steps

SOURCE = Path(__file__).resolve().parents[2]
ANSWERS_WITHIN_S = 120
DELETE_ALL = "delete the shop"
ADDRESS = "http://127.0.0.1:8000/"
TLS_ADDRESS = "https://127.0.0.1:8000/"


def install_service(arguments: Sequence[str], machine: Machine | None = None, source: Path = SOURCE) -> int:
    """Carry the command out; return its status."""
    machine = machine or Machine()
    options = parser().parse_args(arguments)
    problem = _who_problem(machine, dry=options.dry_run)
    if problem:
        say(problem)
        return 1
    try:
        if options.dry_run:
            return _carry_out(options, machine, source)
        with _to_oneself(machine):
            return _carry_out(options, machine, source)
    except (CannotInstall, OSError) as reason:
        say(str(reason))
        return 1


def _carry_out(options: argparse.Namespace, machine: Machine, source: Path) -> int:
    steps = _steps(options, machine, source)
    if not steps:
        say("Nothing to do: it is so already.")
        return 0
    say("This does, in order:")
    for number, step in enumerate(steps, 1):
        say(f"  {number}. {step.words}")
    if options.dry_run or not (options.yes or _agreed(with_data=options.with_data)):
        say("Nothing was changed.")
        return 0 if options.dry_run else 1
    for number, step in enumerate(steps, 1):
        say(f"{number}. {step.words}")
        step.do()
    _say_what_follows(options, machine)
    return 0


@contextmanager
def _to_oneself(machine: Machine) -> Iterator[None]:
    """Raises CannotInstall where another installs, upgrades or removes."""
    descriptor = os.open(machine.at("/run/workshop-install.lock"), os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError as error:
        raise CannotInstall("Another install_service is at work. Nothing was changed.") from error
    finally:
        os.close(descriptor)


def parser() -> argparse.ArgumentParser:
    """The options, apart so that `manage.py help` can show them."""
    options = argparse.ArgumentParser(
        prog="manage.py install_service",
        description="On Debian or Ubuntu, as root: the shop as a service that starts with the machine, with nightly "
        "backups and hourly reminders. With newer code, the upgrade. It says what it does before it does it.",
    )
    add_options(options)
    return options


def add_options(options: argparse.ArgumentParser) -> None:
    options.add_argument("--yes", action="store_true", help="do not ask")
    options.add_argument("--dry-run", action="store_true", help="only say what would be done")
    which = options.add_mutually_exclusive_group()
    which.add_argument("--back", action="store_true", help="back to the code and the shop of before the last upgrade")
    which.add_argument("--remove", action="store_true", help="remove it again; data, backups and settings stay")
    reach = options.add_mutually_exclusive_group()
    reach.add_argument(
        "--shop-network",
        action="store_true",
        help="tablets of the shop’s own network reach it, by https (a first time it asks; with --yes it is so)",
    )
    reach.add_argument("--this-machine-only", action="store_true", help="nobody but this machine reaches it")
    options.add_argument("--with-data", action="store_true", help="with --remove: these, too, for good")


def as_service(arguments: Sequence[str], machine: Machine | None = None) -> None:
    """Become the shop's user with its settings, and run this command of the shop."""
    machine = machine or Machine()
    if os.geteuid() != 0:
        stop(f"As root: sudo workshop {' '.join(arguments)}")
    try:
        settings = settings_in(machine.settings.read_text())
        user = pwd.getpwnam(USER)
    except (OSError, ValueError, KeyError) as reason:
        stop(f"The shop is not installed here as a service, or its settings cannot be read: {reason}")
    kept = {name: value for name, value in os.environ.items() if name in {"PATH", "LANG", "TERM"}}
    os.initgroups(USER, user.pw_gid)
    os.setgid(user.pw_gid)
    os.setuid(user.pw_uid)
    os.umask(0o077)
    command = [sys.executable, str(machine.code / "manage.py"), *(arguments or ["help"])]
    os.execve(command[0], command, {**kept, "HOME": user.pw_dir, **settings})  # noqa: S606  the shop's own command


def _steps(options: argparse.Namespace, machine: Machine, source: Path) -> list[InstallStep]:
    if options.with_data and not options.remove:
        raise CannotInstall("--with-data goes with --remove.")
    if options.remove:
        return remove_steps(machine, with_data=options.with_data)
    return back_steps(machine) if options.back else install_steps(machine, source, _reach(options, machine))


def _reach(options: argparse.Namespace, machine: Machine) -> str | None:
    """Who reaches the shop: what was said, or is answered a first time; None where the settings say it already."""
    if options.shop_network or options.this_machine_only:
        return ON_THE_NETWORK if options.shop_network else ALONE
    if machine.settings.exists():
        return None
    if options.yes or options.dry_run:
        return ON_THE_NETWORK
    while True:
        try:
            answer = input("Shall tablets and other devices of the shop’s own network reach it, by https? [Y/n] ")
        except EOFError:
            raise CannotInstall("Nobody is there to answer: say --yes. Nothing was changed.") from None
        if answer.strip().lower() in {"", "y", "yes", "n", "no"}:
            return ALONE if answer.strip().lower().startswith("n") else ON_THE_NETWORK


def _who_problem(machine: Machine, *, dry: bool) -> str:
    if not machine.at("/etc/debian_version").exists():
        return "This installs on Debian and Ubuntu alone; .examples has the services to put in place by hand."
    if os.geteuid() != 0 and not dry:
        return "This makes a user and a service: as root, or with sudo in front."
    return ""


def _agreed(*, with_data: bool) -> bool:
    try:
        if with_data:
            return input(f"Everything of the shop is lost then. To go on, type “{DELETE_ALL}”: ").strip() == DELETE_ALL
        return input("Go on? [y/N] ").strip().lower() in {"y", "yes"}
    except EOFError:
        say("Nobody is there to answer: say --yes.")
        return False


def _say_what_follows(options: argparse.Namespace, machine: Machine) -> None:
    if options.remove:
        left = [str(path) for path in (machine.data, machine.backups, machine.settings) if path.exists()]
        say(f"It is removed. Still there: {', '.join(left)}." if left else "It is removed, with all of its data.")
        return
    served = _served_with(machine)
    if not machine.is_booted:
        say(f"systemd does not run here, so nothing was started: sudo workshop serve {served} serves in this window.")
    elif served == ON_THE_NETWORK:
        _say_where_on_the_network(machine)
    elif served != ALONE:
        say("The shop is started. Where it answers says: journalctl -u workshop")
    elif _answers(ADDRESS):
        say(f"The shop answers on this machine: {ADDRESS}")
    else:
        say(f"It does not answer on {ADDRESS} yet. Look at: journalctl -u workshop")
    if not (machine.data / "lives_here.json").exists():  # no shop yet; see workshop/running/whereabouts.py
        say("Next, once: sudo workshop open_shop")
    say(f"Its settings: {machine.settings}")
    say(_about_the_firewall(machine))


def _say_where_on_the_network(machine: Machine) -> None:
    answers, reached = _answers(TLS_ADDRESS), reached_in(machine.data)
    if not answers or reached is None:
        say("It does not answer yet. Look at: journalctl -u workshop")
        return
    say(f"The shop answers, with https:// in front: {' or '.join(reached.shop)}")
    say(f"Each device begins at {reached.new_device}: that page says how it comes to trust the shop. This one, too.")


def _served_with(machine: Machine) -> str:
    """SERVE_OPTIONS as the settings have it."""
    try:
        return settings_in(machine.settings.read_text()).get("SERVE_OPTIONS", "").strip()
    except (OSError, ValueError):
        return ""


def _about_the_firewall(machine: Machine) -> str:
    has_ufw = machine.at("/usr/sbin/ufw").exists()
    if _served_with(machine) == ON_THE_NETWORK:
        line = "Firewall: open ports 8000 (the shop) and 8080 (the page for new devices) for your own network alone"
        ports = "8000,8080"
    else:
        line = "Firewall: nothing has to be opened while only this machine reaches the shop. Once SERVE_OPTIONS lets "
        line += "others in, open its port for your own network alone"
        ports = "8000"
    return f"{line}, such as: ufw allow from 192.168.1.0/24 to any port {ports} proto tcp" if has_ufw else f"{line}."


def _answers(address: str) -> bool:
    """Whether the shop answers within its time. It is this machine itself, so its certificate is not looked at."""
    until = time.monotonic() + ANSWERS_WITHIN_S
    unasked = ssl.create_default_context()
    unasked.check_hostname, unasked.verify_mode = False, ssl.CERT_NONE
    plain = urllib.request.build_opener(urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=unasked))
    while time.monotonic() < until:
        try:
            with plain.open(f"{address}health", timeout=5):
                return True
        except urllib.error.HTTPError:
            return True
        except OSError:
            time.sleep(1)
    return False
