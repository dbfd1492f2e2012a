"""“Is it ready?”: what is in the shop among the hits of a search, with all that a caller asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from workshop.charges.so_far import mark_price_so_far
from workshop.counter.day import with_reason
from workshop.promise.honest import mark_promises, promises_in_danger
from workshop.promise.queued import IN_WORK
from workshop.staff.models import Shop
from workshop.tickets.contacts import mark_told
from workshop.tickets.models import Ticket
from workshop.tickets.visit_rows import mark_visits
from workshop.work.unsafe import mark_unsafe


def tickets_standing(shop: Shop, numbers: Sequence[int], today: dt.date) -> list[Ticket]:
    """The open tickets of these numbers in their order: promise, price so far, what they wait for, who was told what.

    In a fixed number of queries; the promises are only reckoned where work is left on one.
    """
    asked = Ticket.objects.of_shop(shop).open().filter(number__in=numbers)
    rows = with_reason(asked.for_rows("customer__email", "visit"))
    tickets = sorted(rows, key=lambda ticket: numbers.index(ticket.number))
    in_work = any(ticket.state in IN_WORK for ticket in tickets)
    mark_promises(tickets, promises_in_danger(shop, today) if in_work else ())
    mark_price_so_far(shop, tickets)
    mark_told(tickets)
    mark_visits(tickets)
    mark_unsafe(tickets)
    return tickets
