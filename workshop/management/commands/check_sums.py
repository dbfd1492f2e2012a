"""Compare the sums that the database keeps with the rows they stand for."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management import CommandError
from django.core.management.base import BaseCommand

from workshop.kept.installing import rebuild
from workshop.kept.triggers import what_differs


class Command(BaseCommand):
    help = "Say whether stock levels and last visits agree with the rows they stand for. Safe while the shop is open."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--mend", action="store_true", help="make them anew from those rows")

    def handle(self, *args: Any, mend: bool, **options: Any) -> None:
        differs = what_differs()
        if not differs:
            self.stdout.write("Every stock level and last visit agrees with its rows.")
        elif mend:
            rebuild()
            self.stdout.write(f"{'; '.join(differs)}: made anew.")
        else:
            raise CommandError(f"{'; '.join(differs)}. manage.py check_sums --mend makes them anew.")
