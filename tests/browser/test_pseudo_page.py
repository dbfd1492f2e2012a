"""The customer's page in longer sentences and from right to left, on a phone and a tablet: nothing sticks out."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page
from pytest_django import Settings

from tests.browser.test_phone import SIDEWAYS
from tests.factories import BikeFactory, SettingsRecordFactory, ShopFactory, TicketFactory, UserFactory
from tests.pseudo import made_pseudo
from workshop.charges.labour import charge_minutes
from workshop.documents.issuing import issue
from workshop.links.links import make_link
from workshop.models import Ticket
from workshop.pseudo_names import ACCENTED, FROM_RIGHT, PSEUDO_LANGUAGES

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.any_database]


@pytest.fixture(scope="module")
def pseudo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made_pseudo(tmp_path_factory.mktemp("pseudo"))


@pytest.mark.parametrize("screen", ["phone", "tablet"])
def test_nothing_sticks_out_in_either_language(
    screen: str,
    open_screen: Callable[..., Page],
    live_server: Any,
    pseudo_folder: Path,
    settings: Settings,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    settings.LANGUAGES, settings.LOCALE_PATHS = [*settings.LANGUAGES, *PSEUDO_LANGUAGES], [pseudo_folder]
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    shop = ShopFactory(phone="0555 1", email="desk@mill-yard.example", address="1 Weir Row", is_demo=True)
    ticket: Ticket = TicketFactory(shop=shop, price_ceiling=Decimal(5), customer__papers_language=ACCENTED)
    Ticket.objects.filter(pk=ticket.pk).update(bike=BikeFactory(customer=ticket.customer), state="ready")
    SettingsRecordFactory(ticket=ticket, moment="hand_back", remarks="")
    member = UserFactory(shop=shop, mechanic=True)
    charge_minutes(ticket=Ticket.objects.get(pk=ticket.pk), words="Look inside", minutes=30, by=member)
    issue(ticket=Ticket.objects.get(pk=ticket.pk), kind="estimate", by=member, ticket_address="")
    address = live_server.url + reverse("customer:page", args=[make_link(ticket=ticket, by=None)[1]])
    page = open_screen(screen)
    for code, written in ((ACCENTED, "ltr"), (FROM_RIGHT, "rtl")):
        ticket.customer.papers_language = code
        ticket.customer.save()
        page.goto(address)
        assert page.evaluate("[document.documentElement.lang, getComputedStyle(document.body).direction]") == [
            code,
            written,
        ]
        assert page.evaluate(SIDEWAYS) == []
