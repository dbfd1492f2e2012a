"""Every kind of document against PDF/UA-1, as far as a machine can check it, and read out in the printed order."""

from __future__ import annotations

import io
import re
import uuid
from collections.abc import Callable
from decimal import Decimal
from html import unescape

import pikepdf
import pytest
from PIL import Image

from tests.factories import (
    ConditionNoteFactory,
    CustomerFactory,
    PartFactory,
    PartLineFactory,
    ShopFactory,
    StockItemFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.handed_over import hand_it_over, part, ready_ticket
from tests.known import known
from tests.pdf_text import read_out
from tests.pdf_ua import faults_of, own_faults
from tests.sucked_down import sucked_down_ticket
from workshop.charges.discounts import give_discount
from workshop.charges.models import TaxRules
from workshop.documents import issuing, label_sheet, purchase_list, rendering
from workshop.documents.issuing import PRINTABLE
from workshop.issued.models import Document
from workshop.reminders.letter import letter_pdf
from workshop.reminders.models import Message
from workshop.staff.models import User
from workshop.stock.ordering import place_order
from workshop.tickets.models import Ticket
from workshop.till.logo import logo_of
from workshop.till.models import ReceiptSettings
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db
Printed = tuple[str, bytes]


def _logo() -> str:
    picture = io.BytesIO()
    Image.new("RGB", (90, 60), "#204060").save(picture, "PNG")
    picture.seek(0)
    return logo_of(picture)


LOGO = _logo()


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch) -> list[Printed]:
    """The HTML and the PDF of each document that is made."""
    made: list[Printed] = []
    real: Callable[[str, str], bytes] = rendering.pdf_of

    def keep(html: str, paper: str) -> bytes:
        pdf = real(html, paper)
        made.append((html, pdf))
        return pdf

    for module in (issuing, label_sheet, purchase_list):
        monkeypatch.setattr(f"{module.__name__}.pdf_of", keep)
    monkeypatch.setattr("workshop.reminders.letter.pdf_of", keep)
    return made


def of_a_ticket(kind: str) -> None:
    ticket = sucked_down_ticket()
    for number in range(3):
        PartLineFactory(ticket=ticket, part=PartFactory(), unit_price=Decimal(number))
    ConditionNoteFactory(ticket=ticket)
    ReceiptSettings.objects.create(shop=ticket.shop, logo=LOGO)
    clerk = User.objects.get(username="counter")
    issuing.issue(ticket=ticket, kind=kind, by=clerk, ticket_address="https://shop.example/bench/1/")


def of_the_till(kind: str) -> None:
    """Two units on one receipt, with a logo, two ways of paying and something taken off; then a credit note."""
    shop = ShopFactory()
    TaxRules.objects.create(shop=shop, labour_percent=Decimal(19), parts_percent=Decimal(7))
    ReceiptSettings.objects.create(
        shop=shop, tax_number="12 345", registration_number="Mill Yard 9", foot="Thank you.", logo=LOGO
    )
    customer = CustomerFactory(shop=shop, address="1 Weir Row\nUnder Beacon")
    units = [SuspensionUnitFactory(shop=shop, customer=customer) for _ in range(2)]
    tickets = [ready_ticket("80.00", shop=shop, customer=customer, unit=unit) for unit in units]
    give_discount(ticket=tickets[0], off="labour", amount=Decimal(10), reason="Waited long", by=None)
    PartLineFactory(ticket=tickets[1], part=PartFactory(), unit_price=Decimal(12), quantity=1, status="used")
    first = hand_it_over(tickets[0], on_account=True, with_receipt=False)
    hand_it_over(tickets[1], part("card", "50"), on_account=True, together=[first])
    if kind == "credit_note":
        open_again(ticket=tickets[0], reason="Wrong price", by=None, seen_version=tickets[0].version)
    ticket = Ticket.objects.select_related("shop").get(pk=tickets[0].pk)
    issuing.issue(ticket=ticket, kind=kind, by=UserFactory(shop=shop), ticket_address="")


def of_the_stores(kind: str) -> None:
    item = StockItemFactory(supplier="North")
    purchase_list.list_pdf(place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(3)}, by=None))


def of_labels(kind: str) -> None:
    item = StockItemFactory(shelf="A2")
    label_sheet.labels_pdf(
        shop=item.shop, tags=[label_sheet.tag_of_item(item, "https://shop.example/stores/1/")] * 2, paper="24 on A4"
    )


def of_a_reminder(kind: str) -> None:
    ticket = TicketFactory()
    ReceiptSettings.objects.create(shop=ticket.shop, logo=LOGO)
    letter_pdf(
        Message(
            shop=ticket.shop,
            customer=ticket.customer,
            to_address="1 Weir Row\nUnder Beacon",
            subject="Your fork",
            body="First.\n\nSecond.",
            queued_at=known(ticket.booked_at),
            stop_url=f"https://shop.example/c/{uuid.UUID(int=1)}/",
        )
    )


MAKING: dict[str, Callable[[str], None]] = {
    **dict.fromkeys(map(str, PRINTABLE), of_a_ticket),
    "receipt": of_the_till,
    "credit_note": of_the_till,
    "purchase_list": of_the_stores,
    "reminder_letter": of_a_reminder,
    "label_sheet": of_labels,
}


# What has no room for a logo, or goes to a supplier and not to a customer.
WITHOUT_LOGO = {"label", "label_sheet", "purchase_list"}


@pytest.mark.parametrize("kind", MAKING)
def test_every_document_conforms_and_reads_out_what_is_written_in_its_order(kind: str, printed: list[Printed]) -> None:
    MAKING[kind](kind)

    ((html, pdf),) = printed
    assert faults_of(pdf) == []
    assert (f'src="{LOGO}" alt="Logo of ' in html) == (kind not in WITHOUT_LOGO)
    assert plain(read_out(pdf, leave_out=("Lbl", "Figure"))) == plain(written(html))


def test_every_template_of_a_document_is_looked_at() -> None:
    whole = {path.stem for path in rendering._static_dir().parent.glob("templates/documents/[!_]*.html")}

    assert whole == set(MAKING)
    assert set(PRINTABLE) == set(Document.Kind)


def written(html: str) -> str:
    """The words of a page in the order of its source, without what the page does not print."""
    body = html[html.index("<body") :]
    return unescape(re.sub(r"<[^>]*>", "", body))


def plain(text: str) -> str:
    """Without white space, which breaks otherwise in a PDF, and in one case, which a style sheet may change."""
    return re.sub(r"[\s!]+", "", text).casefold()


def test_what_the_checks_look_for_is_found(printed: list[Printed]) -> None:
    """Slips planted in a work order's file, one at a time."""
    of_a_ticket("work_order")
    ((_, pdf),) = printed

    def with_slip(spoil: Callable[[pikepdf.Pdf], None]) -> str:
        with pikepdf.open(io.BytesIO(pdf)) as opened:
            spoil(opened)
            spoilt = io.BytesIO()
            opened.save(spoilt)
        return " ".join(own_faults(spoilt.getvalue()))

    def first(opened: pikepdf.Pdf, role: str) -> pikepdf.Object:
        return next(one for one in opened.objects if isinstance(one, pikepdf.Dictionary) and one.get("/S") == role)

    def no_scope(opened: pikepdf.Pdf) -> None:
        del first(opened, "/TH").A["/Scope"]

    def no_words(opened: pikepdf.Pdf) -> None:
        del first(opened, "/Figure")["/Alt"]

    def deep(opened: pikepdf.Pdf) -> None:
        first(opened, "/H1").S = pikepdf.Name.H4

    def untagged(opened: pikepdf.Pdf) -> None:
        opened.pages[0].contents_add(b"BT ET 0 0 9 9 re f")

    def unread(opened: pikepdf.Pdf) -> None:
        element = first(opened, "/P")
        element.K = pikepdf.Array()

    def in_a_row(opened: pikepdf.Pdf) -> None:
        first(opened, "/TD").S = pikepdf.Name.P

    assert own_faults(pdf) == []
    assert "7.5: a header cell without scope" in with_slip(no_scope)
    assert "7.3: a Figure without words" in with_slip(no_words)
    assert "7.4.2: the first heading is of level 4" in with_slip(deep)
    assert "7.1: f is neither tagged nor an artifact, page 1" in with_slip(untagged)
    assert "7.1: content" in with_slip(unread)
    assert "7.2: P in TR" in with_slip(in_a_row)
