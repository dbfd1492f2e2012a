"""`manage.py make_pseudo`: languages that nobody speaks, to see what is not marked, glued or cut."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser


class Command(BaseCommand):
    help = (
        "Make the pseudo-languages from every marked sentence: with DEBUG=1 a customer can then be written to in them. "
        "With --template FILE write what a translator begins with instead."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--template", type=Path, help="a file to be, such as sentences.pot")

    def handle(self, *args: Any, template: Path | None, **options: Any) -> None:
        try:
            from workshop.management import catalogue
        except ModuleNotFoundError as missing:
            raise CommandError(
                f"That needs the packages of the tests, of which {missing.name} is missing: "
                "python3 manage.py test --quick installs them."
            ) from missing
        if template is not None:
            self.stdout.write(f"{len(catalogue.write_template(template))} sentences are in {template}.")
            return
        folder = Path(settings.DATA_DIR) / "pseudo-language"
        made = catalogue.write_pseudo(folder)
        self.stdout.write(
            f"{len(made)} sentences, twice, in {folder}. Start the shop anew with DEBUG=1, and choose the language "
            "at a customer."
        )
