"""The ticket that the demo shop is shown with."""

from __future__ import annotations

from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def sucked_down_ticket() -> Ticket:
    """The demo's fork that was sucked down: the last one its counter booked in."""
    number = Shop.objects.get().last_ticket_number
    return Ticket.objects.with_names().select_related("shop").get(number=number)
