"""`manage.py lint`: every check that needs no test."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from workshop.management import script_tools

_PYTHON = sys.executable
_BESIDE_PYTHON = Path(sys.executable).parent
CHECKS: tuple[tuple[str, ...], ...] = (
    (_PYTHON, "-m", "ruff", "check", "."),
    (_PYTHON, "-m", "ruff", "format", "--check", "."),
    (_PYTHON, "-m", "mypy"),
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
        missing = script_tools.provide()
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
            for check in checks:
                shown = " ".join((Path(check[0]).name, *check[1:])).replace(f"{settings.BASE_DIR}/", "")
                self.stdout.write(self.style.MIGRATE_HEADING(f"> {shown}"))
                self.stdout.flush()
                if subprocess.run(check, cwd=settings.BASE_DIR, env=environment, check=False).returncode:  # noqa: S603  from the list above
                    failed.append(shown)
        if failed:
            raise CommandError("Failed: " + "; ".join(failed))
