"""Issuing a document: its data and its PDF are frozen together, under a revision and two digests."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.formats import date_format

from workshop.customers.language import language_of
from workshop.documents import customer_report, estimate, label, receipt, slip, work_order
from workshop.documents.common import logo_of_shop
from workshop.documents.rendering import PAPERS, html_of, pdf_of
from workshop.issued.models import Document
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.till.models import Receipt, ReceiptTicket
from workshop.web.languages import known_language, speaking
from workshop.web.storage import StoreAway

LABEL_PAPER = "100×62 mm"


@dataclass(frozen=True)
class Printable:
    """How a document of a ticket is made: what it prints, gathered as plain JSON, and its paper if not the shop's.

    `is_for_shop`: the customer does not read it, so it is in the shop's language.
    """

    gather: Callable[[Ticket, str], dict[str, Any]]
    paper: str = ""
    is_for_shop: bool = False


# In the order of their buttons on the ticket's page.
PRINTABLE: Mapping[str, Printable] = {
    Document.Kind.LABEL: Printable(label.gather_label, LABEL_PAPER, is_for_shop=True),
    Document.Kind.SLIP: Printable(slip.gather_slip),
    Document.Kind.WORK_ORDER: Printable(work_order.gather_work_order, is_for_shop=True),
    Document.Kind.ESTIMATE: Printable(estimate.gather_estimate),
    Document.Kind.CUSTOMER_REPORT: Printable(customer_report.gather_customer_report),
    Document.Kind.RECEIPT: Printable(receipt.gather_receipt),
    Document.Kind.CREDIT_NOTE: Printable(receipt.gather_credit_note),
}
# What can be printed only where there is one under a number, by the kind of receipt that it prints.
_NUMBERED = {Document.Kind.RECEIPT: Receipt.Kind.RECEIPT, Document.Kind.CREDIT_NOTE: Receipt.Kind.CREDIT}


class UnknownPaper(ValueError):
    """A paper that the shop cannot print on."""


def print_buttons(ticket: Ticket) -> list[tuple[str, str]]:
    """Kind and words of each document that can be printed of a ticket; one query."""
    numbered = set(ReceiptTicket.objects.filter(ticket=ticket).order_by().values_list("kind", flat=True))
    kinds = [kind for kind in PRINTABLE if kind not in _NUMBERED or _NUMBERED[Document.Kind(kind)] in numbered]
    return [(kind, str(Document.Kind(kind).label).lower()) for kind in kinds]


def template_of(kind: str) -> str:
    return f"documents/{kind}.html"


def draft(*, ticket: Ticket, kind: str, ticket_address: str) -> dict[str, Any]:
    """The data a document of this kind would print now. `ticket_address` goes into its QR code, if any."""
    with speaking(language_of_paper(ticket, kind)):
        return PRINTABLE[Document.Kind(kind)].gather(ticket, ticket_address)


def language_of_paper(ticket: Ticket, kind: str) -> str:
    """The code of the language that a document of this kind is issued in."""
    return known_language("") if PRINTABLE[Document.Kind(kind)].is_for_shop else language_of(ticket.customer)


def digest_of_paper(data: Mapping[str, Any]) -> str:
    """SHA-256 of the data in one canonical spelling."""
    return hashlib.sha256(json.dumps(data, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def issue(*, ticket: Ticket, kind: str, by: User, ticket_address: str, paper: str = "") -> Document:
    """Issue the next revision of a document.

    Laying out takes the longest, so it is done before the transaction: no writer waits for it.

    Raises:
        UnknownPaper: not one of PAPERS.
        workshop.documents.receipt.NothingToPrint: no receipt or credit note is issued.
        workshop.documents.rendering.PdfUnavailable: the machine cannot make PDFs; nothing is kept.
    """
    paper = paper or PRINTABLE[Document.Kind(kind)].paper or ticket.shop.paper
    if paper not in PAPERS:
        raise UnknownPaper(f"There is no paper “{paper}”; choose one of {', '.join(PAPERS)}.")
    language = language_of_paper(ticket, kind)
    data = draft(ticket=ticket, kind=kind, ticket_address=ticket_address)
    revision, logo = _next_revision(ticket, kind), logo_of_shop(ticket.shop)
    while True:
        with speaking(language):
            at = str(date_format(timezone.localtime(), "j M Y, H:i"))
            data["issue"] = {"revision": revision, "by": str(by), "at": at}
            data_digest = digest_of_paper(data)
            html = html_of(template_of(kind), {**data, "data_digest": data_digest[:12]}, logo=logo)
        pdf = pdf_of(html, paper)
        with transaction.atomic():
            Ticket.objects.select_for_update(no_key=True).get(pk=ticket.pk)
            if revision != _next_revision(ticket, kind):
                # Somebody issued one while this was laid out: print the next number.
                revision = _next_revision(ticket, kind)
                continue
            digest = hashlib.sha256(pdf).hexdigest()
            document = Document(
                ticket=ticket,
                kind=kind,
                revision=revision,
                paper=paper,
                data=data,
                data_digest=data_digest,
                digest=digest,
                language=language,
                issued_by=by,
                issued_at=timezone.now(),
            )
            name = f"documents/{ticket.shop_id}/{ticket.number}/{kind}-{revision}-{digest[:12]}.pdf"
            document.pdf.save(name, ContentFile(pdf), save=False)
            document.full_clean(exclude=["ticket", "issued_by"])
            document.save()
            log(ticket=ticket, by=by, kind="document_issued", values={"kind": str(kind), "revision": revision})
            return document


def stored_pdf(document: Document) -> bytes | None:
    """The PDF as it was issued; None where the file is missing or is no longer the one that was issued.

    Raises workshop.web.storage.StoreAway: the store does not answer, so nobody knows.
    """
    try:
        with document.pdf.open("rb") as file:
            pdf: bytes = file.read()
    except StoreAway:
        raise
    except OSError:
        return None
    return pdf if hashlib.sha256(pdf).hexdigest() == document.digest else None


def _next_revision(ticket: Ticket, kind: str) -> int:
    newest = Document.objects.filter(ticket=ticket, kind=kind).aggregate(newest=Max("revision"))["newest"]
    return (newest or 0) + 1
