"""Parts of a ticket on paper: what, how much, whether the shop has it, and the price."""

from __future__ import annotations

from typing import Any

from workshop.charges.ticket_charges import titled
from workshop.documents.common import date_text
from workshop.staff.models import Shop
from workshop.stock.amounts import amount_in_words, measured, unit_of_stock
from workshop.stock.models import StockItem
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import shop_money
from workshop.work.parts_shown import LineShown, lines_of, total_of


def parts_block(ticket: Ticket) -> dict[str, Any]:
    """Lines still wanted or used, their sum, and how many have no price yet. What must be ordered comes first."""
    shop = ticket.shop
    shown = [line for line in lines_of(ticket) if line.line.status != PartLine.Status.DROPPED]
    parts = [line.line.part_id for line in shown if line.line.part_id]
    shelves = dict(StockItem.objects.filter(shop=shop, part__in=parts).values_list("part", "shelf"))
    rows = sorted(shown, key=lambda line: (not line.must_be_ordered, line.coming is None))
    return {
        "parts": [_row(line, shelves.get(line.line.part_id or 0, ""), shop) for line in rows],
        "parts_total": shop_money(total_of(shown), shop),
        "parts_unpriced": sum(1 for line in shown if line.line.total is None),
        "parts_to_order": sum(1 for line in shown if line.must_be_ordered),
    }


def availability(line: LineShown) -> str:
    """Where the part is, in words that hold in black and white."""
    if line.line.status == PartLine.Status.USED:
        return "used"
    if line.in_stock is None:
        return "to order (not kept)"
    if line.coming is not None:
        expected = line.coming.expected_on
        return f"on order, expected {date_text(expected)}" if expected else "on order"
    return "to order" if line.must_be_ordered else "in stock"


def _row(shown: LineShown, shelf: str, shop: Shop) -> dict[str, Any]:
    line, part = shown.line, shown.line.part
    return {
        "number": part.number if part else "",
        "title": titled(line.title, line.warranty),
        "size": part.size if part else "",
        "note": line.note,
        "quantity": measured(line.quantity, part),
        "availability": availability(shown),
        "in_words": amount_in_words(line.quantity, part, _with_size(line)),
        "used": line.status == PartLine.Status.USED,
        "shelf": shelf,
        "total": shop_money(line.total, shop),
    }


def _with_size(line: PartLine) -> str:
    """A part with its size; the size of what is poured is its bottle's."""
    size = line.part.size if line.part and not unit_of_stock(line.part) else ""
    return f"{line.title}, {size}" if size else line.title
