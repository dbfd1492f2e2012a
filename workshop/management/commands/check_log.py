"""`manage.py check_log`: whether each shop's security log is as it was written."""

from __future__ import annotations

from typing import Any

from django.core.management import CommandError

from workshop.running.shop_command import ShopCommand
from workshop.staff import append_only
from workshop.staff.models import Shop
from workshop.staff.security_log import standing_of_log


class Command(ShopCommand):
    help = "Follow the chain of each shop’s security log from its first line. Safe while the shop is open."

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = [] if append_only.is_installed() else ["the database does not refuse to change the log"]
        for shop in Shop.objects.order_by("pk"):
            standing = standing_of_log(shop)
            if standing.wrong is not None:
                wrong.append(f"{shop}: line {standing.wrong} is not as it was written, or missing")
            else:
                self.stdout.write(f"{shop}: all {standing.checked:,} lines are as they were written.")
        if wrong:
            raise CommandError(f"{'; '.join(wrong)}.")
