"""Set-up on the first start: a virtual environment beside the code, filled from the pinned, hashed locks.

Only the standard library, and nothing newer than Python 3.8 can parse: an old Python must get as far as the message.
Set OWN_ENVIRONMENT=1 to keep an environment of your own; then nothing is made or installed here.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import importlib.metadata
import importlib.util
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn

from workshop import system_packages

OLDEST, NEWEST = (3, 11), (3, 13)
TEST_COMMANDS = frozenset({"test", "lint", "lock"})
# Sets of packages: the lock of each set's own name has all of it, and it is what it is by these.
LOCKS_OF = {"shop": ("shop",), "bucket": ("shop", "bucket"), "tests": ("shop", "metrics", "bucket", "tests")}


def enter_environment(argv: list[str]) -> None:
    """Return in an interpreter that has the packages this command needs, or replace this process by one that has.

    The option that refuses system packages is taken out of `argv`: no command knows it.
    """
    if system_packages.REFUSING in argv:
        argv.remove(system_packages.REFUSING)
        os.environ[system_packages.REFUSED] = "1"
    problem = python_problem(sys.version_info[:2])
    if problem:
        stop(problem)
    home = Environment(Path(__file__).resolve().parent.parent)
    packages = "tests" if len(argv) > 1 and argv[1] in TEST_COMMANDS else packages_of_shop()
    if os.environ.get("OWN_ENVIRONMENT"):
        missing = home.missing_here(packages)
        if missing:
            stop(f"OWN_ENVIRONMENT is set, and these are not installed in {sys.prefix}: {', '.join(missing)}.")
        return
    if home.serves_as_it_is(packages):
        home.provide_system_packages(argv)
        return
    if not home.holds(packages):
        home.fill(packages)
    home.provide_system_packages(argv)
    python = str(home.python)
    os.execv(python, [python, *argv])  # noqa: S606  this very command line, by another Python


def packages_of_shop() -> str:
    """Which set a shop needs by its settings: more of them where its files lie in a bucket."""
    return "bucket" if os.environ.get("FILES_URL") else "shop"


def provide(command: str, packages: str = "") -> None:
    """Fill the environment beside this code, and install the system packages of a command, without running it.

    `packages` is one of LOCKS_OF; by default what the settings of this process ask for.
    """
    problem = python_problem(sys.version_info[:2])
    if problem:
        stop(problem)
    home = Environment(Path(__file__).resolve().parent.parent)
    packages = packages or packages_of_shop()
    if not home.holds(packages):
        home.fill(packages)
    home.provide_system_packages(["manage.py", command])
    compiled = [str(home.python), "-m", "compileall", "-q", "specs", "diagnosis", "workshop"]
    subprocess.run(compiled, check=False, cwd=str(home.folder.parent))  # noqa: S603  quicker starts, nothing else


def provide_extra(name: str) -> None:
    """Install the packages of another lock into the environment beside this code, on top of the shop's."""
    Environment(Path(__file__).resolve().parent.parent).add(name)


def python_problem(version: tuple[int, ...]) -> str:
    """Why this Python cannot run the shop; empty where it can."""
    if OLDEST <= tuple(version) <= NEWEST:
        return ""
    found = ".".join(map(str, version))
    return f"This needs Python 3.{OLDEST[1]} to 3.{NEWEST[1]}; {sys.executable} is Python {found}."


class Environment:
    """The virtual environment in `root`/.venv, and the stamp in it that says what was installed to the end."""

    def __init__(self, root: Path) -> None:
        self.folder = root / ".venv"
        self.python = self.folder / "bin" / "python"
        self.stamp = self.folder / "installed.json"
        self.requirements = root / ".requirements"

    def is_running(self) -> bool:
        return Path(sys.prefix).resolve() == self.folder.resolve()

    def serves_as_it_is(self, packages: str) -> bool:
        """Whether the running interpreter has the packages: this environment's own, or one made by other means."""
        if self.is_running():
            return self.holds(packages) or (not self.stamp.exists() and not self.missing_here(packages))
        return not self.holds(packages) and not self.missing_here(packages)

    def provide_system_packages(self, argv: Sequence[str]) -> None:
        """Before the first start of a command that is better for them."""
        purpose = system_packages.COMMANDS.get(argv[1] if len(argv) > 1 else "")
        if purpose:
            system_packages.provide_packages(purpose, self.folder / "system-packages.json")

    def holds(self, packages: str) -> bool:
        """Whether these packages were installed to the end, or a set that includes them."""
        stamped = self._stamped()
        wider = [other for other, locks in LOCKS_OF.items() if packages in locks]
        return self.python.exists() and any(stamped == self._facts(other) for other in wider)

    def missing_here(self, packages: str) -> list[str]:
        """Packages named in the `.in` files that the running interpreter does not have."""
        names = [name for lock in LOCKS_OF[packages] for name in self._named(lock)]
        return [name for name in names if not _is_installed(name)]

    def fill(self, packages: str) -> None:
        """Make the environment and install the locked packages, a whole one also after an interrupted try."""
        if importlib.util.find_spec("ensurepip") is None:
            stop("Python’s venv module is not complete. On Debian: apt-get install python3-venv")
        if self.folder.exists() and not os.access(str(self.folder), os.W_OK):
            stop(
                f"Packages are missing, and this user may not install them into {self.folder}. As whoever may, start "
                "once with the same settings; for a service: sudo python3 manage.py install_service"
            )
        with self._one_at_a_time():
            if self.holds(packages):  # another start did it while this one waited
                return
            say(f"Setting up {self.folder} from {packages}.lock. This takes a minute or two, once.")
            # No stamp means unfinished, and another Python has another place for its packages: begin from nothing.
            if self._stamped().get("python") != _python_name() or not self.python.exists():
                base = getattr(sys, "_base_executable", sys.executable)
                self._run(base, "-m", "venv", "--clear", str(self.folder))
            self.stamp.unlink(missing_ok=True)
            self.add(packages)
            draft = self.stamp.with_suffix(".draft")
            draft.write_text(json.dumps(self._facts(packages)))
            draft.replace(self.stamp)

    def add(self, packages: str) -> None:
        """Install what a lock names, as pinned."""
        lock = str(self.requirements / f"{packages}.lock")
        pip = (str(self.python), "-m", "pip", "install", "-qq", "--no-input", "--disable-pip-version-check")
        # The lock names every package; left to resolve, pip wants a newer release than locked for "coverage[toml]".
        self._run(*pip, "--no-deps", "--require-hashes", "--only-binary=:all:", "-r", lock)

    def _facts(self, packages: str) -> dict[str, str]:
        content = b"".join((self.requirements / f"{lock}.lock").read_bytes() for lock in LOCKS_OF[packages])
        return {"python": _python_name(), "packages": packages, "sha256": hashlib.sha256(content).hexdigest()}

    def _stamped(self) -> dict[str, str]:
        try:
            stamped = json.loads(self.stamp.read_text())
        except (OSError, ValueError):
            return {}
        return stamped if isinstance(stamped, dict) else {}

    def _named(self, packages: str) -> list[str]:
        text = (self.requirements / f"{packages}.in").read_text()
        return re.findall(r"^[A-Za-z0-9][A-Za-z0-9._-]*", text, flags=re.MULTILINE)

    @contextlib.contextmanager
    def _one_at_a_time(self) -> Iterator[None]:
        descriptor = os.open(self.requirements, os.O_RDONLY)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX)
            yield
        finally:
            os.close(descriptor)

    def _run(self, *command: str) -> None:
        if subprocess.run(command, check=False).returncode:  # noqa: S603  pip, with our own words
            stop("Setting up did not finish: see the lines above. The next start begins it again.")


def _python_name() -> str:
    return ".".join(map(str, sys.version_info[:2]))


def _is_installed(name: str) -> bool:
    try:
        importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)  # noqa: T201


def stop(line: str) -> NoReturn:
    say(line)
    sys.exit(1)
