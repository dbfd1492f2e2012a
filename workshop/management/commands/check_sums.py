"""Compare what the database keeps, sums and the words that are searched, with the rows they stand for."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management import CommandError

from workshop.kept.installing import rebuild
from workshop.reminders.kept_list import bring_every_shop_up_to_date
from workshop.running.shop_command import ShopCommand
from workshop.running.whole_check import sums_that_differ
from workshop.searching import agreeing
from workshop.searching.installing import rebuild as rebuild_search


class Command(ShopCommand):
    help = (
        "Say whether stock levels, last visits, the due list and what is searched agree with their rows. "
        "Safe while the shop is open."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--mend", action="store_true", help="repair them: make them anew from those rows")

    def handle(self, *args: Any, mend: bool, **options: Any) -> None:
        sums, search = sums_that_differ(), agreeing.what_differs()
        words = "; ".join([*sums, *search])
        if not words:
            self.stdout.write(
                "Every stock level, last visit, place on the due list and word searched agrees with its rows."
            )
        elif not mend:
            raise CommandError(f"{words}. manage.py check_sums --mend makes them anew.")
        else:
            if sums:
                rebuild()
                bring_every_shop_up_to_date()
            if search and (problem := rebuild_search()):
                raise CommandError(f"{words}: what could be made anew was, but {problem}.")
            self.stdout.write(f"{words}: made anew.")
