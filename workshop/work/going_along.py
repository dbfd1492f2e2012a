"""What else of a visit is ready, and whether it can be handed over in the same act."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from workshop.charges.so_far import mark_price_so_far
from workshop.charges.sums import NOTHING, Charges
from workshop.tickets.models import Ticket
from workshop.till.models import Payment
from workshop.till.standing import money_by_ticket
from workshop.work.unsafe import mark_unsafe


@dataclass(frozen=True)
class Beside:
    """Another ready ticket of the visit, what is due for it, and why it needs its own page, where it does."""

    ticket: Ticket
    gross: Decimal
    due: Decimal
    by_itself: str = ""


def ready_beside(ticket: Ticket) -> list[Beside]:
    """The other ready tickets of a visit, the lowest number first. No query without a visit, then one, and a fixed
    number more where there are any.
    """
    if ticket.visit_id is None:
        return []
    ready = Ticket.objects.filter(visit=ticket.visit_id, customer=ticket.customer_id, state=Ticket.State.READY)
    tickets = list(
        ready.exclude(pk=ticket.pk).select_related("shop", "customer", "unit__model", "bike").order_by("number")
    )
    if not tickets:
        return []
    mark_unsafe(tickets)
    mark_price_so_far(ticket.shop, tickets)
    money = money_by_ticket(Payment.objects.filter(ticket__in=tickets))
    return [_beside(one, money.get(one.pk, NOTHING)) for one in tickets]


def _beside(ticket: Ticket, paid: Decimal) -> Beside:
    charges: Charges = ticket.so_far  # type: ignore[attr-defined]  # marked just before
    due = charges.gross - paid
    why = ""
    if getattr(ticket, "must_not_ride", False):
        why = "it must not be ridden, and somebody signs for it"
    elif charges.unpriced:
        why = "something on it has no price yet"
    elif due < 0:
        why = "money goes back for it"
    return Beside(ticket, charges.gross, due, why)
