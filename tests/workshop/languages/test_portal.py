"""The customer's page, its forms, their errors and what follows a press, in the customer's language."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language

from tests.factories import BikeFactory, PhotoFactory, SettingsRecordFactory, ShopFactory, TicketFactory, UserFactory
from tests.pseudo import plain_english, said_in, typed_in_the_shop
from tests.workshop.reminders.due_units import due_unit
from workshop.charges.labour import charge_minutes
from workshop.documents.issuing import issue
from workshop.links.links import make_link, withdraw_link
from workshop.models import CustomerLink, Document, Ticket
from workshop.pseudo_names import ACCENTED, FROM_RIGHT
from workshop.reminders.opt_out import stop_token
from workshop.staff.models import Shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("pseudo"), pytest.mark.any_database]


@pytest.fixture
def ticket() -> Ticket:
    shop = ShopFactory(phone="0555 1", email="desk@mill-yard.example", address="1 Weir Row", is_demo=True)
    ticket: Ticket = TicketFactory(
        shop=shop, state=Ticket.State.ON_THE_BENCH, price_ceiling=Decimal(5), customer__papers_language=ACCENTED,
        customer__agreed_to_reminders=True, customer__agreed_to_reminders_at=timezone.now(),
    )  # fmt: skip
    ticket.bike = BikeFactory(customer=ticket.customer)
    ticket.save()
    return ticket


@pytest.fixture
def secret(ticket: Ticket) -> str:
    return make_link(ticket=ticket, by=None)[1]


@pytest.fixture
def estimate(ticket: Ticket, monkeypatch: pytest.MonkeyPatch) -> Document:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    member = UserFactory(shop=ticket.shop, mechanic=True)
    charge_minutes(ticket=ticket, words="Look inside", minutes=30, by=member)
    return issue(ticket=ticket, kind="estimate", by=member, ticket_address="")


def plain_in(answer: Any, shop: Shop) -> list[str]:
    """What is not accented; prices and days are written as everywhere."""
    titles = {ticket.unit.title for ticket in Ticket.objects.filter(shop=shop)}
    return plain_english(said_in(answer.text), typed_in_the_shop() | titles)


def looked_at(answer: Any, ticket: Ticket, status: int = 200) -> None:
    assert answer.status_code == status
    assert '<html lang="en-xa">' in answer.text
    assert plain_in(answer, ticket.shop) == []
    assert get_language() == "en-gb", "the next request is the shop's again"


@pytest.mark.parametrize("state", [state for state in Ticket.State.values if state != "waiting"])
def test_the_page_in_each_state(state: str, ticket: Ticket, secret: str) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state=state)
    SettingsRecordFactory(ticket=ticket, moment="hand_back", remarks="")
    PhotoFactory(ticket=ticket, for_customer=True, caption="", moment="")
    PhotoFactory(ticket=ticket, for_customer=True, caption="The wiper", moment="after")
    looked_at(Client().get(reverse("customer:page", args=[secret])), ticket)


@pytest.mark.parametrize("waiting_for", Ticket.WaitingFor.values)
def test_the_page_while_it_waits(waiting_for: str, ticket: Ticket, secret: str) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="waiting", waiting_for=waiting_for)
    looked_at(Client().get(reverse("customer:page", args=[secret])), ticket)


def test_the_estimate_and_both_answers(ticket: Ticket, secret: str, estimate: Document) -> None:
    client = Client()
    looked_at(client.get(reverse("customer:page", args=[secret])), ticket)
    sent = {"digest": estimate.data_digest, "answered": ""}
    for agreed in ("yes", "no"):
        answered = estimate.answers.order_by("-pk").values_list("pk", flat=True).first() or ""
        done = client.post(
            reverse("customer:answer_estimate", args=[secret]),
            {**sent, "answered": answered, "agreed": agreed},
            follow=True,
        )
        looked_at(done, ticket)
    meanwhile = client.post(reverse("customer:answer_estimate", args=[secret]), {**sent, "agreed": "yes"})
    looked_at(meanwhile, ticket, status=409)


def test_hours_and_rides_with_their_errors(ticket: Ticket, secret: str) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    client = Client()
    hours, tracks = (reverse(f"customer:{name}", args=[secret]) for name in ("say_hours", "send_tracks"))
    for typed in ({}, {"hours_per_week": "81", "conditions": "dry"}, {"hours_per_week": "4", "conditions": "x"}):
        looked_at(client.post(hours, typed), ticket, status=422)
    looked_at(client.post(hours, {"hours_per_week": "4", "conditions": "wet"}, follow=True), ticket)
    looked_at(client.post(tracks, {}), ticket, status=422)
    empty = client.post(tracks, {"tracks": SimpleUploadedFile("ride.gpx", b"")})
    assert empty.status_code == 422


def test_the_next_service(secret: str, ticket: Ticket) -> None:
    unit = due_unit(ticket.shop, papers_language=ACCENTED)
    theirs = TicketFactory(shop=ticket.shop, customer=unit.customer, unit=unit, state="ready")
    _, secret = make_link(ticket=theirs, by=None)
    page = Client().get(reverse("customer:page", args=[secret]))
    assert 'class="customer__due"' in page.text
    looked_at(page, theirs)


def test_ends_of_a_link(ticket: Ticket, secret: str) -> None:
    address = reverse("customer:page", args=[secret])
    now = timezone.now()
    CustomerLink.objects.update(made_at=now - dt.timedelta(days=9), expires_at=now - dt.timedelta(days=1))
    expired = Client().get(address)
    looked_at(expired, ticket, status=410)
    withdraw_link(link=CustomerLink.objects.get(), by=None)
    withdrawn = Client().get(address)
    looked_at(withdrawn, ticket, status=410)
    assert expired.text != withdrawn.text


def test_stopping_reminders(ticket: Ticket) -> None:
    address = reverse("customer:stop", args=[stop_token(ticket.customer)])
    looked_at(Client().get(address), ticket)
    looked_at(Client().post(address), ticket)


def test_from_right_to_left_the_page_says_so(ticket: Ticket, secret: str) -> None:
    ticket.customer.papers_language = FROM_RIGHT
    ticket.customer.save()
    assert '<html lang="ar-xb" dir="rtl">' in Client().get(reverse("customer:page", args=[secret])).text


def test_what_the_walk_looks_for_is_found() -> None:
    page = '<p title="Plain">[Ťéẋť]</p><img alt="A picture"><p>[Áççéñť Plain]</p><p>Ana Reyes, 4 psi</p>'
    assert plain_english(said_in(page), ["Ana Reyes"]) == ["Plain", "A picture", "[Áççéñť Plain]"]


def test_a_customer_of_the_shops_language_reads_what_it_was(secret: str, ticket: Ticket) -> None:
    ticket.customer.papers_language = ""
    ticket.customer.save()
    page = Client().get(reverse("customer:page", args=[secret])).text
    assert '<html lang="en">' in page
    assert "A mechanic is working on it" in page
    assert not any(text.startswith("[") for text in said_in(page))


def test_staff_are_asked_only_where_there_is_a_choice(ticket: Ticket, client: Client, settings: Any) -> None:
    client.force_login(UserFactory(shop=ticket.shop))
    address = reverse("counter:change_customer", args=[ticket.customer_id])
    page = client.get(address).text
    assert 'name="papers_language"' in page
    assert '<html lang="en">' in page, "staff read their own language, whoever the customer is"
    settings.LANGUAGES = [("en-gb", "English")]
    assert 'name="papers_language"' not in client.get(address).text
    assert json.dumps(ticket.customer.papers_language) == '"en-xa"'
