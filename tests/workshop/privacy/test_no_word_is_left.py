"""A person erased is in no table, file, paper or log any more; one exported finds all of it in the file."""

from __future__ import annotations

import io
import logging
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse

from tests.full_shop import FullShop, full_shop
from tests.words_of_a_person import in_files, in_the_database, media, plant, texts_of
from workshop.documents.issuing import issue
from workshop.documents.rendering import PdfUnavailable
from workshop.issued.models import Document
from workshop.models import Customer, Ticket
from workshop.privacy.erasing import erase_customer, finish_erasures
from workshop.privacy.export import write_export

pytestmark = pytest.mark.django_db
FIRST, LAST, STREET, PHONE, MAIL = "Zuleikha", "Brandvoll", "Quernstone", "0555 918 273", "zb@quernstone.example"
WORDS = (FIRST, LAST, STREET, "918 273", "918273", "zb@quernstone")


@pytest.fixture
def shop() -> FullShop:
    return full_shop("Aldermoor")


@pytest.fixture
def person(shop: FullShop) -> Customer:
    """The customer of the full shop under a name that is nobody's else, who is in every line that can be typed."""
    customer: Customer = shop.ticket.customer
    Customer.objects.filter(pk=customer.pk).update(
        name=f"{FIRST} {LAST}", contact_person=f"{FIRST}’s mother", phone=PHONE, other_phones="", email=MAIL,
        address=f"7 {STREET} Lane\nUnder Beacon", notes=f"{FIRST} pays late", search_text=f"{FIRST} {LAST} 918273",
    )  # fmt: skip
    customer.refresh_from_db()
    Ticket.objects.filter(customer=customer).exclude(state="called_off").update(state="handed_back", waiting_for="")
    planted = plant(customer, FIRST)
    assert planted >= {
        "Ticket.notes",
        "LabourLine.words",
        "PartLine.words",
        "Tick.note",
        "TicketEvent.text",
        "Bike.notes",
    }
    return customer


def test_no_word_of_a_person_is_left_anywhere(
    shop: FullShop, person: Customer, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with_papers = True
    try:
        paper = issue(
            ticket=shop.ticket, kind=Document.Kind.WORK_ORDER, by=shop.owner, ticket_address="https://x.example"
        )
    except PdfUnavailable:
        with_papers = False
    else:
        with default_storage.open(str(paper.pdf.name)) as printed:
            assert any(FIRST in text for text in texts_of("a.pdf", printed.read()))
    assert in_the_database(WORDS)
    if with_papers:
        assert in_files(WORDS, media())
    erase_customer(customer=person, by=shop.owner, reason="They asked", with_photos=True)
    finish_erasures()  # once the transaction is through, which that of a test never is
    assert in_the_database(WORDS) == []
    _open_all_of_it(shop, person)
    assert in_the_database(WORDS) == []
    assert in_files(WORDS, media()) == []
    errors = Path(settings.DATA_DIR) / "errors.jsonl"
    assert not errors.exists() or not [word for word in WORDS if word in errors.read_text()]
    assert not [line for line in caplog.messages if any(word in line for word in WORDS)]


def _open_all_of_it(shop: FullShop, person: Customer) -> None:
    """Whatever opening a page writes down, in a log or a table, it does after the erasing."""
    client = Client()
    client.force_login(shop.owner)
    for address in (
        reverse("counter:customer", args=[person.pk]), reverse("counter:ticket", args=[shop.ticket.number]),
        reverse("counter:logbook", args=[shop.ticket.number]), reverse("office:privacy_person", args=[person.pk]),
    ):  # fmt: skip
        answer = client.get(address)
        assert answer.status_code == 200
        assert not [word for word in WORDS if word in answer.content.decode()], address


def test_every_word_that_was_typed_of_a_person_is_in_what_they_are_given(shop: FullShop, person: Customer) -> None:
    out = io.BytesIO()
    write_export(person, out)
    text = "\n".join(texts_of("person.zip", out.getvalue()))
    for word in (FIRST, LAST, STREET, PHONE, MAIL):
        assert word in text
