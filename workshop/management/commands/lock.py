"""`manage.py lock`: pin every package, with hashes, for all supported Pythons."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from workshop.bootstrap import OLDEST

FOLDER = Path(settings.BASE_DIR) / ".requirements"


class Command(BaseCommand):
    help = "Write the locks in .requirements from the .in files. A pin stays unless an .in file or --upgrade moves it."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--upgrade", action="store_true", help="take the newest versions the .in files allow")

    def handle(self, *args: Any, upgrade: bool, **options: Any) -> None:
        for name in ("shop", "tests", "audit"):
            lock = FOLDER / f"{name}.lock"
            command = [sys.executable, "-m", "uv", "pip", "compile", str(FOLDER / f"{name}.in"), "--quiet"]
            command += ["--universal", "--generate-hashes", "--no-header", "--no-annotate"]
            command += ["--python-version", ".".join(map(str, OLDEST)), "--output-file", str(lock)]
            # Both locks must agree where they name the same package.
            command += ["--constraints", str(FOLDER / "shop.lock")] if name == "tests" else []
            if subprocess.run([*command, *(["--upgrade"] if upgrade else [])], check=False).returncode:  # noqa: S603  our own words
                raise CommandError(f"{lock.name} was not made: see above.")
            if "://" in lock.read_text():
                raise CommandError(f"{lock.name} names a host; it must install from wherever the user's pip looks.")
            self.stdout.write(f"{lock.name}: {lock.read_text().count('==')} pins")
