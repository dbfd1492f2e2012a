"""Make the search index anew from the records."""

from __future__ import annotations

import time
from typing import Any

from workshop.running.shop_command import ShopCommand
from workshop.searching.installing import rebuild, what_is_wanting


class Command(ShopCommand):
    help = "Make the search index anew from the records. Safe while the shop is open; searches wait for it."

    def handle(self, *args: Any, **options: Any) -> None:
        began = time.monotonic()
        problem = rebuild()
        if problem:
            self.stderr.write(self.style.WARNING(f"{problem}\n{what_is_wanting()}"))
        else:
            self.stdout.write(f"Search index made anew in {time.monotonic() - began:.1f} s.")
