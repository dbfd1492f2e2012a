"""The estimate: what the work would cost, for the customer to agree to or decline."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from workshop.charges.tax import tax_rules_of
from workshop.charges.ticket_charges import charges_block, charges_of
from workshop.charges.variants import variants_block
from workshop.documents.common import date_text, numbers_block, shop_block, unit_kind_words
from workshop.documents.findings_block import found_by_the_way, unsafe_block
from workshop.documents.photos_block import photo_rows
from workshop.documents.pictures import is_drawing_beside
from workshop.documents.run_block import run_states_printed
from workshop.documents.search_block import search_blocks
from workshop.tickets.models import Ticket
from workshop.web.number_words import shop_money
from workshop.work.findings import findings_on
from workshop.work.unsafe import unsafe_of


def gather_estimate(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the estimate prints, as plain JSON. Its digest says exactly what was agreed to."""
    shop, customer = ticket.shop, ticket.customer
    ceiling = ticket.price_ceiling
    states = run_states_printed(ticket)
    findings = findings_on(ticket, states)
    rules = tax_rules_of(shop)  # an estimate offers by the rules of today, whatever was agreed before
    charges = charges_of(ticket, used_only=False, rules=rules)
    ways = [
        {**way, "above_ceiling": ceiling is not None and Decimal(way["charges"]["gross"]) > ceiling}
        for way in variants_block(ticket, rules)
    ]
    searches = [search for search in search_blocks(states, shop) if search["found"]]
    photos = photo_rows(ticket, "before", "")
    return {
        "title": gettext("Estimate for ticket %(number)s") % {"number": ticket.number},
        "heading": gettext("Estimate"),
        "number": ticket.number,
        "promised": date_text(ticket.promised_on),
        "written": date_text(timezone.localdate()),
        "shop": {**shop_block(shop), **numbers_block(shop)},
        "customer": {"name": customer.name, "address": customer.address},
        "bike": ticket.bike.description if ticket.bike else "",
        "unit": {"title": ticket.unit.title, "kind": unit_kind_words(ticket.unit), "serial": ticket.unit.serial},
        "complaint_words": ticket.complaint_words,
        "price_ceiling": shop_money(ceiling, shop),
        "above_ceiling": ceiling is not None and charges.gross > ceiling,
        "searches": searches,
        "also_found": found_by_the_way(findings, shop),
        "unsafe": unsafe_block(unsafe_of(ticket, states, findings), ticket),
        "photos": photos,
        "drawing_beside": is_drawing_beside(searches, photos),
        "charges": charges_block(charges, rules, shop),
        "variants": ways,
    }
