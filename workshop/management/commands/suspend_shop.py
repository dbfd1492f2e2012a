"""`manage.py suspend_shop`: nobody of a shop gets in until the same command resumes it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser

from workshop.management.operating import operator_named, shop_by_number
from workshop.running.shop_command import ShopCommand
from workshop.staff.stopped_shops import CannotStop, resume_shop, suspend_shop

MEANS = (
    "Nobody of it can sign in or go on with a session, a short code, a tablet or a customer’s link; a page says so. No "
    "message or reminder of it leaves, nobody of it is erased by itself, and nothing is deleted: what waits on a "
    "tablet stays there. Customers can go on stopping reminders."
)


class Command(ShopCommand):
    help = f"Suspend one shop of this database, or resume it with --back. {MEANS}"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("number", type=int, help="of the shop, as `manage.py shops` shows it")
        parser.add_argument("--back", action="store_true", help="resume it: whatever opened it before opens it again")
        parser.add_argument("--why", default="", help="the reason, for the shop’s security log")
        parser.add_argument("--by", help="who does it, for the shop’s security log (default: this machine’s user)")

    def handle(self, *args: Any, number: int, back: bool, why: str, by: str | None, **options: Any) -> None:
        shop, who = shop_by_number(number), operator_named(by)
        try:
            if back:
                resume_shop(shop=shop, who=who)
            else:
                suspend_shop(shop=shop, who=who, why=why)
        except CannotStop as refused:
            raise CommandError(str(refused)) from refused
        if back:
            self.stdout.write(
                self.style.SUCCESS(f"{shop} is resumed. Messages that waited leave with the next reminders.")
            )
        else:
            self.stdout.write(self.style.SUCCESS(f"{shop} is suspended. {MEANS}"))
            self.stdout.write(f"To resume it: python3 manage.py suspend_shop {number} --back")
