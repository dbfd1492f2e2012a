"""`manage.py audit`: look the pinned packages up among known faults."""

from __future__ import annotations

import datetime as dt
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from workshop.running.auditing import CLEAN, NOT_CHECKED, Accepted, BadException, read_accepted, read_report

FOLDER = Path(settings.BASE_DIR) / ".requirements"
WITHIN_S = 600


class Command(BaseCommand):
    help = (
        "Look every pinned package up among known faults, by pip-audit in an environment of its own. Ends with 0 where "
        "all were looked up and none has one, 1 where one has that a newer version mends, 3 where not all could be "
        "looked up. What .requirements/accepted-faults.toml names, and what no version mends, is only told."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--service", default="", help="who is asked, as pip-audit names it (default: its own)")

    def handle(self, *args: Any, service: str, **options: Any) -> None:
        accepted, today = let_through(), dt.datetime.now(dt.UTC).date()
        with tempfile.TemporaryDirectory(prefix="workshop-audit-") as folder:
            audit = read_report(ask(Path(folder), service), accepted, today)
        for fault in (*audit.told, *audit.faults):
            self.stdout.write(fault)
        if audit.verdict != CLEAN:
            raise CommandError(audit.words, returncode=audit.verdict)
        self.stdout.write(self.style.SUCCESS(audit.words))


def let_through() -> tuple[Accepted, ...]:
    """The faults that are accepted for now. Raises CommandError where their list cannot be read."""
    try:
        return read_accepted((FOLDER / "accepted-faults.toml").read_text())
    except BadException as error:
        raise CommandError(str(error)) from None


def ask(folder: Path, service: str) -> Any:
    """The report of pip-audit on the lock that holds all pins, the shop's and the tests'; None where there is none.

    Raises CommandError where pip-audit itself cannot be installed.
    """
    python, report = str(folder / "environment" / "bin" / "python"), folder / "report.json"
    install = [python, "-m", "pip", "install", "-qq", "--no-deps", "--require-hashes", "-r", str(FOLDER / "audit.lock")]
    for command in ([sys.executable, "-m", "venv", str(folder / "environment")], install):
        if subprocess.run(command, check=False).returncode:  # noqa: S603  our own words
            raise CommandError("Not checked: pip-audit could not be installed, see above.", returncode=NOT_CHECKED)
    pins = (FOLDER / "tests.lock").read_text()
    one = folder / "one.lock"
    one.write_text(re.split(r"\n(?=\S)", pins)[0])
    found = None
    for lock in (one, FOLDER / "tests.lock"):  # a service that does not know one is not asked for all the others
        look = [python, "-m", "pip_audit", "-r", str(lock), "--require-hashes", "--disable-pip", "--format", "json"]
        look += ["--progress-spinner", "off", "--output", str(report)]
        look += ["--vulnerability-service", service] if service else []
        try:
            subprocess.run(look, check=False, timeout=WITHIN_S, stderr=subprocess.DEVNULL)  # noqa: S603  our own words
            found = json.loads(report.read_text())
        except (subprocess.TimeoutExpired, OSError, ValueError):
            return None
        if not read_report(found, (), dt.date.min).checked:
            return found
    return found
