"""What the owner set of the shop stands on the papers it belongs on, and nothing where nothing was set."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.factories import TicketFactory
from workshop.documents.estimate import gather_estimate
from workshop.documents.issuing import template_of
from workshop.documents.rendering import html_of
from workshop.documents.slip import gather_slip
from workshop.models import Document, OpeningHours, ReceiptSettings, Ticket

pytestmark = pytest.mark.django_db
ISSUED = {"issue": {"revision": 1, "by": "x", "at": "x"}, "data_digest": "0" * 12}


def on_paper(ticket: Ticket, kind: str) -> str:
    data = gather_slip(ticket, "") if kind == "slip" else gather_estimate(ticket, "")
    return html_of(template_of(Document.Kind(kind)), {**data, **ISSUED})


def test_the_slip_says_when_it_can_be_collected() -> None:
    ticket = TicketFactory.create()
    assert "We are open" not in on_paper(ticket, "slip")
    for weekday in range(5):
        OpeningHours.objects.create(shop=ticket.shop, weekday=weekday, opens=dt.time(9), closes=dt.time(18))
    assert "We are open Monday to Friday 9:00 to 18:00." in on_paper(ticket, "slip")


def test_the_estimate_has_the_numbers_of_the_shop() -> None:
    ticket = TicketFactory.create()
    assert "Tax number" not in on_paper(ticket, "estimate")
    ReceiptSettings.objects.create(shop=ticket.shop, tax_number="12 345", registration_number="HR 77")
    paper = on_paper(ticket, "estimate")
    assert "Tax number 12 345" in paper
    assert "Registration HR 77" in paper
    assert "Tax number" not in on_paper(ticket, "slip")


def test_a_shop_without_a_logo_has_no_room_kept_for_one() -> None:
    paper = on_paper(TicketFactory.create(), "slip")
    assert "Logo of" not in paper
    assert "shop--logo" not in paper
