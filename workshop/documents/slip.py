"""The slip that a customer signs: what came in and in which state, what may be spent, and the shop's terms."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from workshop.documents.common import contact_block, date_text, settings_rows, shop_block, unit_kind_words
from workshop.promise.opening import opening_of, week_words
from workshop.tickets.models import Ticket
from workshop.tickets.settings_record import Settings
from workshop.tickets.visits import loose_in_words, others_of, way_in_words
from workshop.web.number_words import shop_money


def gather_slip(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the slip prints of all units of the ticket's visit, as plain JSON."""
    shop, customer, visit = ticket.shop, ticket.customer, ticket.visit
    tickets = sorted([ticket, *others_of(ticket)], key=lambda one: one.number)
    days = {one.promised_on for one in tickets}
    return {
        "title": gettext("Slip of what came in on ticket %(number)s") % {"number": ticket.number},
        "heading": gettext("What came in"),
        "number": " · ".join(str(one.number) for one in tickets),
        "promised": date_text(next(iter(days))) if len(days) == 1 else "",
        "promised_apart": len(days) > 1,
        "written": date_text(timezone.localdate()),
        "shop": shop_block(shop),
        "customer": {
            "name": customer.name,
            "address": customer.address,
            "phone": customer.phone,
            **contact_block(customer),
        },
        "units": [_unit(one, ticket) for one in tickets],
        "limit_together": "" if visit is None else shop_money(visit.price_ceiling, shop),
        "loose": loose_in_words(visit),
        "came": "" if visit is None else way_in_words(visit.came_by, visit.came_carrier, visit.came_number),
        "goes": "" if visit is None else way_in_words(visit.goes_by, visit.goes_carrier, visit.goes_number),
        "terms": shop.slip_terms,
        "open": week_words(opening_of(shop, timezone.localdate()).week),
    }


def _unit(one: Ticket, ticket: Ticket) -> dict[str, Any]:
    """A unit as it came in: only what was read or seen."""
    shop, unit = ticket.shop, one.unit
    read = [row for row in settings_rows(one, shop, Settings()) if row["arrival"]]
    ceiling = one.price_ceiling
    return {
        "number": one.number,
        "title": unit.title,
        "kind": unit_kind_words(unit),
        "serial": unit.serial,
        "bike": one.bike.description if one.bike else "",
        "complaint_words": one.complaint_words,
        "marks": [{"place": note.place, "text": note.text} for note in one.condition_notes.all()],
        "settings": [{"label": row["label"], "value": row["arrival"]} for row in read],
        "promised": date_text(one.promised_on),
        "no_limit_said": one.no_limit_said,
        "limit": "" if ceiling is None else shop_money(ceiling, shop),
    }
