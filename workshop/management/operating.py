"""What the operator's commands have in common: finding the shop, and who is at it."""

from __future__ import annotations

import getpass

from django.core.management.base import CommandError

from workshop.running.logs import MACHINE
from workshop.staff.models import Shop


def shop_by_number(number: int) -> Shop:
    """The shop of this number. CommandError says where the numbers stand."""
    shop = Shop.objects.filter(pk=number).first() if number < 2**63 else None
    if shop is None:
        raise CommandError(f"There is no shop {number} in this database: python3 manage.py shops")
    return shop


def operator_named(said: str | None) -> str:
    """Who does it, for the security log: a name that was given, or the machine's own user."""
    if said:
        return said
    try:
        return f"{getpass.getuser()} on {MACHINE}"
    except (KeyError, OSError):  # a user without a name, as in some containers
        return f"somebody on {MACHINE}"
