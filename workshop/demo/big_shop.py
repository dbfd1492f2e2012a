"""A demo shop with years of tickets behind it, to see how everything behaves once a database has grown."""

from __future__ import annotations

import gc
import random
from collections.abc import Callable, Mapping

from django.db import connection, transaction

from workshop.demo.long_past import Sizes, make_long_past
from workshop.demo.making import SEED, Login, fill_demo
from workshop.kept import installing as kept
from workshop.reminders.kept_list import bring_every_shop_up_to_date
from workshop.running.databases import take_statistics
from workshop.searching import installing
from workshop.staff.models import Shop, User


class NotEmpty(RuntimeError):
    """There is a shop in this database; nothing was changed."""


def make_big_shop(
    sizes: Sizes,
    *,
    say: Callable[[str], None] = lambda words: None,
    progress: Callable[[int], None] = lambda made: None,
) -> list[Login]:
    """Make the demo shop with a long past, all of it or nothing; returns how its staff sign in.

    The demo's own tickets, with work in every state, come last: their numbers follow those of the past.

    Raises:
        NotEmpty: there is a shop already, be it in use or a demo.
    """
    if Shop.objects.exists():
        raise NotEmpty("This database holds a shop already. A big demo shop is only made in an empty one.")
    chance = random.Random(SEED)  # noqa: S311  the same shop each time

    def past(shop: Shop, staff: Mapping[str, User]) -> None:
        say(f"{sizes.tickets:,} tickets of the past")
        make_long_past(shop=shop, staff=staff, sizes=sizes, chance=chance, progress=progress)

    gc.disable()  # millions of rows and no cycles among them
    try:
        with transaction.atomic():
            installing.remove()
            kept.remove()
            with connection.cursor() as cursor:
                if connection.vendor == "postgresql":  # otherwise it remembers each row until the end
                    cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            logins = fill_demo(say=say, before_tickets=past)
            say("Search index")
            installing.rebuild()
            kept.rebuild()
        say("Due list")
        bring_every_shop_up_to_date()
    finally:
        gc.enable()
    take_statistics()
    return logins
