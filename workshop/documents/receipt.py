"""A receipt or a credit note on paper: what was frozen under its number."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext

from workshop.documents.common import date_text
from workshop.issued.models import Document
from workshop.tickets.models import Ticket
from workshop.till.models import Receipt


class NothingToPrint(ValueError):
    """The ticket has no such paper yet; the message says what to do."""


def gather_receipt(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Of the newest receipt that covers the ticket. Raises NothingToPrint."""
    return _gather(ticket, Receipt.Kind.RECEIPT, "No receipt is issued for this ticket yet. It is issued at hand-over.")


def gather_credit_note(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Of the oldest credit note of the ticket that was not printed yet, else of the newest. Raises NothingToPrint."""
    return _gather(ticket, Receipt.Kind.CREDIT, "No credit note is issued for this ticket.")


def _gather(ticket: Ticket, kind: str, otherwise: str) -> dict[str, Any]:
    receipts = list(Receipt.objects.filter(covers__ticket=ticket, kind=kind).order_by("pk"))
    if not receipts:
        raise NothingToPrint(otherwise)
    receipt = receipts[-1]
    if kind == Receipt.Kind.CREDIT and len(receipts) > 1:  # of several in part each is printed
        papers = Document.objects.filter(ticket=ticket, kind=Document.Kind.CREDIT_NOTE)
        printed = set(papers.values_list("data__number", flat=True))
        receipt = next((one for one in receipts if one.number_words not in printed), receipt)
    kept = receipt.data
    return {
        **kept,
        "title": str(receipt),
        "charged_for": "; ".join(
            gettext("ticket %(number)s, %(unit)s") % {"number": block["number"], "unit": block["unit"]}
            for block in kept["tickets"]
        ),
        "heading": str(receipt.get_kind_display()),
        "on_words": date_text(dt.date.fromisoformat(kept["on"])),
        "corrects_on_words": date_text(dt.date.fromisoformat(kept["corrects_on"])) if "corrects_on" in kept else "",
        "payments": [
            {**one, "on_words": date_text(dt.date.fromisoformat(one["on"]))} for one in kept.get("payments", ())
        ],
    }
