"""Parts of a ticket on paper: what, how much, whether the shop has it, and the price."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from workshop.tickets.models import PartLine, Ticket


def parts_block(ticket: Ticket) -> dict[str, Any]:
    """Lines still wanted or used, their sum, and how many have no price yet."""
    from workshop.tickets.part_lines import lines_of

    shop = ticket.shop
    shown = [line for line in lines_of(ticket) if line.line.status != PartLine.Status.DROPPED]
    totals = [line.line.total for line in shown if line.line.total is not None]
    return {
        "parts": [],
        "parts_total": f"{sum(totals, Decimal(0)):,.2f} {shop.currency}",
        "parts_unpriced": len(shown) - len(totals),
    }
