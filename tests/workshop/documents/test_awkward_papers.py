"""Papers of a ticket with far more on it than usual: nothing is left out, and no page has a lone row at its edge."""

from __future__ import annotations

import io

import pypdf
import pytest

from tests.factories import PartFactory, PartLineFactory, SuspensionUnitFactory, TicketFactory, UserFactory
from tests.pdf_ua import own_faults
from tests.shipped import shipped_checklist
from tests.workshop.documents.test_pictures_on_paper import picture
from workshop.documents.issuing import draft, template_of
from workshop.documents.rendering import html_of, pdf_of
from workshop.tickets.models import Ticket
from workshop.tickets.photos import add_photo, choose_photo

pytestmark = pytest.mark.django_db
COMPLAINTS = ("sits-low", "loses-air", "oil-at-seals", "knocks-or-play")
LONG = "Fortycharactersandnotoneblankinallofthem"
PARTS, PHOTOS = 60, 30


@pytest.fixture
def crowded() -> Ticket:
    """Sixty parts, four complaints, thirty photos, of a fork in no book, whose serial is forty characters long."""
    clerk = UserFactory()
    unit = SuspensionUnitFactory(
        shop=clerk.shop, customer__shop=clerk.shop, model=None, described_as="A fork in no book"
    )
    ticket = TicketFactory(shop=clerk.shop, customer=unit.customer, unit=unit, complaint_words=f"It knocks. {LONG}")
    for key in COMPLAINTS:
        ticket.complaints.add(shipped_checklist(key).complaint)
    for number in range(PARTS):
        PartLineFactory(ticket=ticket, part=PartFactory(description=f"Shim {number:02d} of the stack, {LONG}"))
    shot = picture()
    for number in range(PHOTOS):
        photo = add_photo(ticket=ticket, by=clerk, photo=shot, caption=f"Shot {number:02d} {LONG}")
        choose_photo(photo=photo, by=clerk, moment="before")
    return Ticket.objects.with_names().get(pk=ticket.pk)


@pytest.mark.parametrize("kind", ["work_order", "estimate", "customer_report"])
def test_all_of_it_is_printed_and_no_row_stands_alone_on_a_page(kind: str, crowded: Ticket) -> None:
    data = {**draft(ticket=crowded, kind=kind, ticket_address=""), "data_digest": "0" * 12}
    pdf = pdf_of(html_of(template_of(kind), data), "A4")
    pages = [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    whole = " ".join(pages)

    assert own_faults(pdf) == []
    for number in range(PARTS):
        assert f"Shim {number:02d}" in whole
    shown = [sum(f"Shim {number:02d}" in page for number in range(PARTS)) for page in pages]
    assert sum(shown) == PARTS
    assert 1 not in shown
    if kind != "work_order":
        assert all(f"Shot {number:02d}" in whole for number in range(PHOTOS))
    assert LONG in whole.replace(" ", "")
