"""`manage.py lint`: every check that needs no test."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from workshop.management import script_tools

_PYTHON = sys.executable
_BESIDE_PYTHON = Path(sys.executable).parent
LONGEST = (_PYTHON, "-m", "mypy")  # the longest, and on one core: it runs beside the others
CHECKS: tuple[tuple[str, ...], ...] = (
    (_PYTHON, "-m", "ruff", "check", "."),
    (_PYTHON, "-m", "ruff", "format", "--check", "."),
    (_PYTHON, "-m", "djlint", "templates", "--lint", "--quiet"),
    (str(_BESIDE_PYTHON / "lint-imports"),),
    (_PYTHON, "manage.py", "makemigrations", "--check", "--dry-run"),
    (_PYTHON, "manage.py", "check", "--deploy", "--fail-level", "WARNING"),
)


class Command(BaseCommand):
    help = "Check style, types and imports, templates and scripts, migrations, and the settings of a shop behind TLS."
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        failed = []
        checks = CHECKS
        missing = script_tools.provide_script_tools()
        if missing:
            self.stderr.write(f"The scripts are not checked: {missing}.")
            failed += ["the scripts were not checked"] if os.environ.get("CI") else []
        else:
            checks += script_tools.script_checks()
        with tempfile.TemporaryDirectory(prefix="workshop-lint-") as data_dir:
            # The defaults are what is checked, whatever this shell has set.
            ours = {"DEBUG", "HTTPS", "SECRET_KEY", "ALLOWED_HOSTS", "TRUSTED_ORIGINS", "BEHIND_PROXY", "DATABASE_URL"}
            environment = {name: value for name, value in os.environ.items() if name not in ours}
            environment["DATA_DIR"] = data_dir
            with ThreadPoolExecutor(1) as beside:
                longest = beside.submit(self._fails, LONGEST, environment, show=False)
                failed += [self._shown(check) for check in checks if self._fails(check, environment)]
                failed += [self._shown(LONGEST)] if longest.result() else []
        if failed:
            raise CommandError("Failed: " + "; ".join(failed))

    def _shown(self, check: tuple[str, ...]) -> str:
        return " ".join((Path(check[0]).name, *check[1:])).replace(f"{settings.BASE_DIR}/", "")

    def _fails(self, check: tuple[str, ...], environment: dict[str, str], *, show: bool = True) -> bool:
        """Whether it fails; with `show` its words come as it says them, else in one piece once it has ended."""
        if show:
            self._head(check)
        said = None if show else subprocess.PIPE
        run = subprocess.run(  # noqa: S603  from the lists above
            check, cwd=settings.BASE_DIR, env=environment, check=False, stdout=said, stderr=said and subprocess.STDOUT
        )
        if not show:
            self._head(check)
            self.stdout.write((run.stdout or b"").decode(errors="replace"))
        return bool(run.returncode)

    def _head(self, check: tuple[str, ...]) -> None:
        self.stdout.write(self.style.MIGRATE_HEADING(f"> {self._shown(check)}"))
        self.stdout.flush()
