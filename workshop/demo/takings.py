"""Money in the demo shop: its invented numbers for receipts, and deposits on what is in the shop.

What the demo handed back has no payments, as in a shop that has kept tickets for longer than payments.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from decimal import Decimal

from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket
from workshop.till.receipt_settings import set_receipt_settings
from workshop.till.taking import PaidPart, take_payment

DEPOSITS = (("cash", "20.00"), ("card", "30.00"), ("transfer", "25.00"))


def add_money(shop: Shop, staff: Mapping[str, User]) -> None:
    """A deposit in each way of paying, on the first tickets that wait."""
    set_receipt_settings(
        shop=shop, seen_version=0, tax_number="demo 000", registration_number="demo 111", foot="Demo data."
    )
    waiting = Ticket.objects.filter(shop=shop, state=Ticket.State.WAITING).select_related("shop").order_by("number")
    for ticket, (kind, amount) in zip(waiting, DEPOSITS, strict=False):
        take_payment(ticket=ticket, part=PaidPart(kind, Decimal(amount)), client_id=uuid.uuid4(), by=staff["counter"])
