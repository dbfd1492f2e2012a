"""`manage.py lock`: pin every package, with hashes, for all supported Pythons, and list what a shop is made of."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from workshop.bootstrap import OLDEST
from workshop.management.pins import LOCKS, changes, read_pins, read_script_tools

BASE = Path(settings.BASE_DIR)
FOLDER = BASE / ".requirements"
_BUILDS_ON = {"metrics": "shop", "bucket": "shop", "tests": "bucket"}


class Command(BaseCommand):
    help = (
        "Write the locks in .requirements from the .in files, say what that changes and under which licence, and list "
        "all of it in sbom.cdx.json. A pin stays unless an .in file or --upgrade moves it."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--upgrade", action="store_true", help="take the newest versions the .in files allow")

    def handle(self, *args: Any, upgrade: bool, **options: Any) -> None:
        before = read_pins(FOLDER)
        for name in LOCKS:
            lock = FOLDER / f"{name}.lock"
            command = [sys.executable, "-m", "uv", "pip", "compile", str(FOLDER / f"{name}.in"), "--quiet"]
            command += ["--universal", "--generate-hashes", "--no-header", "--no-annotate"]
            command += ["--python-version", ".".join(map(str, OLDEST)), "--output-file", str(lock)]
            # Locks must agree where they name the same package: each one that others build on holds theirs.
            command += ["--constraints", str(FOLDER / f"{_BUILDS_ON[name]}.lock")] if name in _BUILDS_ON else []
            if subprocess.run([*command, *(["--upgrade"] if upgrade else [])], check=False).returncode:  # noqa: S603  our own words
                raise CommandError(f"{lock.name} was not made: see above.")
            if "://" in lock.read_text():
                raise CommandError(f"{lock.name} names a host; it must install from wherever the user’s pip looks.")
            self.stdout.write(f"{lock.name}: {lock.read_text().count('==')} pins")
        self._list_parts(before)

    def _list_parts(self, before: list[Any]) -> None:
        """Say what changed, refuse what has no licence that is allowed, and write the list of parts."""
        # Among the tests' packages: nothing else needs them.
        from workshop.management.bill import make_bill, parts_alone
        from workshop.management.licences import at_hand, licences_of, may_be_used, read_licences

        pins, known = read_pins(FOLDER), read_licences(FOLDER / "licences.toml")
        with tempfile.TemporaryDirectory(prefix="workshop-lock-") as folder:
            packages = at_hand(pins, [FOLDER / f"{name}.lock" for name in LOCKS], Path(folder))
            licence_of = licences_of(pins, known.said, packages)
        self.stdout.write("\n".join(changes(before, pins, licence_of) or ["No pin changed."]))
        refused = [
            f"{pin.name} {pin.version}: {licence_of[pin.key] or 'unknown'}"
            for pin in pins
            if not may_be_used(licence_of[pin.key], known.allowed if pin.in_shop else known.allowed_for_tools)
        ]
        if refused:
            raise CommandError(
                "Licences that .requirements/licences.toml does not allow, so sbom.cdx.json is as it was:\n"
                + "\n".join(refused)
            )
        bill = make_bill(
            BASE, pins=pins, licence_of=licence_of, shipped=known.shipped,
            tools=read_script_tools(BASE / ".tools" / "package-lock.json"), made_at=timezone.now(),
        )  # fmt: skip
        file = FOLDER / "sbom.cdx.json"
        if not file.exists() or parts_alone(file.read_text()) != parts_alone(bill):
            file.write_text(bill)
        self.stdout.write(f"{file.name}: {len(parts_alone(bill)['components'])} parts")
