"""Whose a row is that belongs to a ticket."""

from __future__ import annotations

from django.db.models import Exists, OuterRef

from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def of_the_shop(shop: Shop) -> Exists:
    """That a row's ticket is the shop's: asked for beside, so that a database begins with the days, not the shop."""
    return Exists(Ticket.objects.filter(pk=OuterRef("ticket"), shop=shop))
