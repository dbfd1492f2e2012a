"""The system packages a command is better for: found wanting, installed where that may be, else said in one line.

Only the standard library, and nothing newer than Python 3.8 can parse: set-up asks this before anything is installed.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from workshop import pdf_libraries

REFUSING = "--no-system-packages"
REFUSED = "NO_SYSTEM_PACKAGES"  # what the option becomes for the processes that follow
COMMANDS = {"demo": "shop", "serve": "shop", "test": "tests"}
PATIENCE_S = 900  # for a slow line; the browser is the largest

_FONT_FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts", "/System/Library/Fonts", "~/.local/share/fonts")
# The headless shell is the same browser without its windows: a page of a profile of its own costs it a fifth.
_BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
_WITHOUT = {"shop": "Everything but PDFs works.", "tests": "Tests that need them are skipped."}


def _has_fonts() -> bool:
    folders = [Path(folder).expanduser() for folder in _FONT_FOLDERS]
    return any(next(folder.rglob("*.[to]t[fc]"), None) for folder in folders if folder.is_dir())


def browser() -> str | None:
    """The Chromium that drives the screens' tests, or None."""
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, _BROWSERS)), None)


_LOOKS: Mapping[str, Callable[[], bool]] = {
    "fonts-dejavu-core": _has_fonts,
    "chromium-headless-shell": lambda: browser() is not None,
    "poppler-utils": lambda: shutil.which("pdftoppm") is not None,
    # Playwright's own driver opens it; other systems than Debian have it with their compiler, or do not need it.
    "libatomic1": lambda: not sys.platform.startswith("linux") or pdf_libraries.can_open("libatomic.so.1"),
    "openssl": lambda: shutil.which("openssl") is not None,
}
_NEEDS = {
    "shop": ("fonts-dejavu-core",),
    "tests": ("fonts-dejavu-core", "chromium-headless-shell", "poppler-utils", "libatomic1", "openssl"),
}


def missing(purpose: str) -> list[str]:
    """Debian packages that the shop, or the tests, lack here; empty where everything is there."""
    return [*pdf_libraries.missing_packages(), *(name for name in _NEEDS[purpose] if not _LOOKS[name]())]


def to_type(packages: list[str]) -> str:
    """What installs them on Debian."""
    return f"apt-get install --no-install-recommends {' '.join(packages)}"


def provide_packages(purpose: str, stamp: Path) -> None:
    """Install what is missing, once: `stamp` keeps that it was tried, so that no later start asks again."""
    if os.environ.get(REFUSED) or _tried(stamp, purpose):
        return
    packages = missing(purpose)
    if not packages:
        return
    rights = _rights(packages)
    if rights is not None:
        _say(f"Installing system packages, once: {' '.join(packages)}")
        if not _install(rights, packages):
            _say("That did not work: see the lines above.")
    still = missing(purpose)
    if still:
        _say(f"{_WITHOUT[purpose]} For the rest, as root: {to_type(still)}")
    _keep_tried(stamp, purpose)


def _rights(packages: list[str]) -> list[str] | None:
    """What goes before the commands that install; None where they may not be run, or somebody said no."""
    if not shutil.which("apt-get"):
        return None
    if os.geteuid() == 0:
        return []
    if not shutil.which("sudo") or not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    try:
        answer = input(f"Install {' '.join(packages)} through sudo? [y/N] ")
    except EOFError:
        return None
    return ["sudo"] if answer.strip().lower() in {"y", "yes"} else None


def _install(rights: list[str], packages: list[str]) -> bool:
    quiet = [*rights, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq"]
    try:
        for rest in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
            # Nothing to answer, and apt's own lines only where it fails.
            done = subprocess.run(  # noqa: S603  apt-get, with names from above
                [*quiet, *rest],
                check=False,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                timeout=PATIENCE_S,
            )
            if done.returncode:
                _say(done.stdout.decode(errors="replace").strip()[-2000:])
                return False
    except (OSError, subprocess.TimeoutExpired) as problem:
        _say(f"apt-get: {problem}")
        return False
    return True


def _tried(stamp: Path, purpose: str) -> bool:
    return purpose in _read(stamp)


def _read(stamp: Path) -> list[str]:
    try:
        tried = json.loads(stamp.read_text())
    except (OSError, ValueError):
        return []
    return [str(name) for name in tried] if isinstance(tried, list) else []


def _keep_tried(stamp: Path, purpose: str) -> None:
    with contextlib.suppress(OSError):  # no environment beside the code: then it is asked again
        stamp.write_text(json.dumps(sorted({*_read(stamp), purpose})))


def _say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)  # noqa: T201
