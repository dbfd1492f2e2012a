"""The label that hangs on the fork: its number, whose it is, and a code that opens the ticket."""

from __future__ import annotations

from typing import Any

from workshop.documents.common import date_text, shop_block
from workshop.documents.qr import qr_data_uri
from workshop.tickets.models import Ticket


def gather_label(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the label prints, as plain JSON."""
    return {
        "title": f"Label of ticket {ticket.number}",
        "shop": shop_block(ticket.shop),
        "number": ticket.number,
        "customer": ticket.customer.name,
        "unit": ticket.unit.title,
        "serial": ticket.unit.serial,
        "bike": ticket.bike.description if ticket.bike else "",
        "promised": date_text(ticket.promised_on),
        "booked": date_text(ticket.booked_at.date()),
        "address": ticket_address,
        "qr": qr_data_uri(ticket_address) if ticket_address else "",
    }
