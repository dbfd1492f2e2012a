"""Compare the sums that the database keeps with the rows they stand for."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management import CommandError

from workshop.kept.installing import rebuild
from workshop.reminders.kept_list import bring_every_shop_up_to_date
from workshop.running.shop_command import ShopCommand
from workshop.running.whole_check import sums_that_differ


class Command(ShopCommand):
    help = (
        "Say whether stock levels, last visits and the due list agree with the rows they follow from. "
        "Safe while the shop is open."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--mend", action="store_true", help="repair them: make them anew from those rows")

    def handle(self, *args: Any, mend: bool, **options: Any) -> None:
        differs = sums_that_differ()
        if not differs:
            self.stdout.write("Every stock level, last visit and place on the due list agrees with its rows.")
        elif mend:
            rebuild()
            bring_every_shop_up_to_date()
            self.stdout.write(f"{'; '.join(differs)}: made anew.")
        else:
            raise CommandError(f"{'; '.join(differs)}. manage.py check_sums --mend makes them anew.")
