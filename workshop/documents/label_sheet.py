"""Many labels at once, for tickets and for what lies on a shelf, on a sheet of A4 or from a roll.

The sizes are those that sheets and rolls are commonly sold in; common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.text import Truncator

from workshop.documents.common import date_text, shop_block
from workshop.documents.qr import qr_data_uri
from workshop.documents.rendering import LABEL_PAPERS, html_of, pdf_of
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.tickets.models import Ticket

MOST_LABELS = 240
ON_A_SHEET = {"24 on A4": 24, "12 on A4": 12, "62×29 mm": 1}
_LONG_HEADING, _LONGEST_HEADING, _LONGEST_TITLE, _LONGEST_LINE = 7, 24, 60, 44  # so that they stay on the smallest


@dataclass(frozen=True)
class Tag:
    """One label: a heading to be read from afar, what it is, small lines, and what its code opens."""

    heading: str
    title: str
    lines: Sequence[str]
    opens: str
    address: str


def tag_of_ticket(ticket: Ticket, address: str) -> Tag:
    """What hangs on a fork or shock; the ticket has its customer, unit and bike."""
    bike = ticket.bike.description if ticket.bike else ""
    lines = [line for line in (ticket.unit.title, bike, f"Promised {date_text(ticket.promised_on)}") if line]
    return Tag(str(ticket.number), ticket.customer.name, lines, f"ticket {ticket.number}", address)


def tag_of_item(item: StockItem, address: str) -> Tag:
    """What stands at a part's place on the shelf."""
    part = item.part
    lines = [line for line in (part.number if item.shelf else "", part.size, item.supplier) if line]
    return Tag(item.shelf or part.number, part.description, lines, f"part {part.number}", address)


def labels_pdf(*, shop: Shop, tags: Sequence[Tag], paper: str, used: int = 0) -> bytes:
    """A sheet or more of them, or one after the other from a roll.

    Args:
        used: how many labels of the first sheet are gone already; nothing on a roll.

    Raises:
        ValueError: an unknown paper, no label or too many, or more gone than a sheet has.
        workshop.documents.rendering.PdfUnavailable: the PDF cannot be made.
    """
    if paper not in LABEL_PAPERS:
        raise ValueError(f"There is no label paper “{paper[:20]}”; choose one of {', '.join(LABEL_PAPERS)}.")
    if not 0 < len(tags) <= MOST_LABELS:
        raise ValueError(f"From 1 to {MOST_LABELS} labels are printed at once; these are {len(tags)}.")
    if not 0 <= used < ON_A_SHEET[paper]:
        raise ValueError(f"A sheet has {ON_A_SHEET[paper]} labels, so from 0 to {ON_A_SHEET[paper] - 1} can be gone.")
    return pdf_of(html_of("documents/label_sheet.html", sheet_data(shop=shop, tags=tags, used=used)), paper)


def sheet_data(*, shop: Shop, tags: Sequence[Tag], used: int) -> dict[str, Any]:
    """What the template prints."""
    return {
        "title": f"{len(tags)} label{'' if len(tags) == 1 else 's'}",
        "shop": shop_block(shop),
        "used": range(used),
        "tags": [
            {
                "heading": Truncator(tag.heading).chars(_LONGEST_HEADING),
                "is_long": len(tag.heading) > _LONG_HEADING,
                "title": Truncator(tag.title).chars(_LONGEST_TITLE),
                "lines": [Truncator(line).chars(_LONGEST_LINE) for line in tag.lines],
                "opens": tag.opens,
                "address": tag.address,
                "qr": qr_data_uri(tag.address) if tag.address else "",
            }
            for tag in tags
        ],
    }
