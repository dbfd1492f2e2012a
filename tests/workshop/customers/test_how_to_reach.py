"""Companies and whom to ask for, several phones, the language, and an email address checked while it is typed."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from tests import factories as make
from tests.squeezed import squeezed
from workshop.counter.search import find
from workshop.customers.adding import add_customer
from workshop.customers.known import of_that_phone
from workshop.customers.phones import MOST_LINES, phone_lines
from workshop.links.links import make_link, withdraw_link
from workshop.models import Customer, Shop, Ticket
from workshop.privacy.erasing import erase_customer
from workshop.reminders.opt_out import customer_of
from workshop.tickets.contacts import add_note

pytestmark = pytest.mark.django_db
HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def shop() -> Shop:
    return make.ShopFactory.create()


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(make.UserFactory.create(shop=shop), backend="workshop.staff.backend.StaffBackend")
    return client


@pytest.fixture
def company(shop: Shop) -> Customer:
    return add_customer(
        shop=shop, by=None, name="Weir Row Couriers", contact_person="Odile Novák", phone="0555 010 447",
        other_phones=" work 0555 020 118 \n\nhome 0555 030 229", email="desk@weir-row.example", language="French",
    )  # fmt: skip


@pytest.mark.parametrize("typed", ["weir row", "odile", "447", "0555 020118", "0118", "229", "+44 555 030 229"])
def test_it_is_found_by_each_name_and_each_phone(shop: Shop, company: Customer, typed: str) -> None:
    for n in range(70):  # newer ones that hold the digits and do not end so
        add_customer(shop=shop, by=None, name=f"Aba {n:02}", phone=f"0118 229 447 {n:02}")
    assert find(shop, typed).customers[0].customer == company


def test_any_of_the_phones_is_known(shop: Shop, company: Customer) -> None:
    assert of_that_phone(shop, "+44 555 030 229") == [company]
    assert of_that_phone(shop, "0555 030 228") == []


@pytest.mark.parametrize("typed", ["call her", "1" * 70, "\n".join("0555 010 44" for _ in range(MOST_LINES + 1))])
def test_what_is_no_list_of_phones_is_refused_beside_its_field(typed: str) -> None:
    with pytest.raises(ValidationError) as refused:
        phone_lines(typed)
    assert list(refused.value.message_dict) == ["other_phones"]


def test_the_form_keeps_all_of_it_and_says_beside_the_field_what_is_wrong(counter: Client, company: Customer) -> None:
    address = reverse("counter:change_customer", args=[company.pk])
    kept = {name: value or "" for name, value in counter.get(address).context["form"].initial.items()}
    sent = {**kept, "rider_mass_kg": "", "seen_version": "1", "other_phones": "call her"}
    refused = counter.post(address, sent)
    assert refused.status_code == 422
    assert "no phone number in “call her”" in refused.context["form"].errors["other_phones"][0]
    assert counter.post(address, {**sent, "other_phones": "0555 1", "language": "Dutch"}).status_code == 302
    company.refresh_from_db()
    assert (company.other_phones, company.language, company.contact_person) == ("0555 1", "Dutch", "Odile Novák")


def test_the_ticket_says_whom_to_ask_for_and_how(counter: Client, company: Customer) -> None:
    ticket = make.TicketFactory.create(shop=company.shop, customer=company, unit__customer=company)
    page = squeezed(counter.get(reverse("counter:ticket", args=[ticket.number])).text)
    for words in ("ask for Odile Novák", "work 0555 020 118", "in French"):
        assert words in page


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", ""),
        ("odile", "no whole email address"),
        ("odile@weir", "no whole email address"),
        ("odile@weir-row.example", ""),
        ("DESK@weir-row.example ", "Weir Row Couriers has this address"),
    ],
)
@pytest.mark.parametrize("field", ["email", "customer-email"])
def test_an_address_is_judged_while_it_is_typed(
    counter: Client, company: Customer, typed: str, said: str, field: str
) -> None:
    told = squeezed(counter.get(reverse("counter:check_email"), {field: typed}, **HTMX).text).strip()
    assert said in told
    assert bool(said) == bool(told)


def test_another_shops_customers_are_not_told_of(counter: Client) -> None:
    add_customer(shop=make.ShopFactory.create(), by=None, name="Elsewhere", email="desk@elsewhere.example")
    assert "Elsewhere" not in counter.get(reverse("counter:check_email"), {"email": "desk@elsewhere.example"}).text


def test_an_erased_person_leaves_neither_names_nor_phones(company: Customer) -> None:
    ticket = make.TicketFactory.create(shop=company.shop, customer=company, unit__customer=company, state="handed_back")
    make.ConditionNoteFactory.create(ticket=ticket, text="Odile rang from 0555-030-229")
    erase_customer(customer=company, by=None)
    company.refresh_from_db()
    assert (company.contact_person, company.other_phones, company.language) == ("", "", "")
    assert "novak" not in company.search_text
    left = ticket.condition_notes.get().text
    assert "Odile" not in left
    assert "229" not in left


def a_link(ticket: Ticket) -> str:
    return make_link(ticket=ticket, by=None)[1]


@pytest.mark.parametrize(("agreed", "said"), [(True, "Stop reminders"), (False, "We send you no reminders")])
def test_how_to_stop_reminders_is_on_the_customers_page(client: Client, agreed: bool, said: str) -> None:
    owner = make.CustomerFactory.create(agreed_to_reminders=agreed)
    ticket = make.TicketFactory.create(shop=owner.shop, customer=owner, unit__customer=owner)
    address = reverse("customer:page", args=[a_link(ticket)])
    page = client.get(address)
    assert said in page.text
    stop = reverse("customer:stop", args=[page.context["stop_token"]])
    assert (stop in page.text) is agreed
    assert customer_of(page.context["stop_token"]) == owner


def test_a_refused_answer_and_an_ended_link_say_it_too(client: Client) -> None:
    owner = make.CustomerFactory.create(agreed_to_reminders=True)
    ticket = make.TicketFactory.create(shop=owner.shop, customer=owner, unit__customer=owner)
    link, secret = make_link(ticket=ticket, by=None)
    refused = client.post(reverse("customer:say_hours", args=[secret]), {"hours_per_week": "x"})
    assert refused.status_code == 422
    assert "Stop reminders" in refused.text
    withdraw_link(link=link, by=make.UserFactory.create(shop=owner.shop))
    ended = client.get(reverse("customer:page", args=[secret]))
    assert ended.status_code == 410
    assert "To stop reminders" in ended.text


def test_notes_for_staff_are_on_no_page_of_the_customers(client: Client) -> None:
    owner = make.CustomerFactory.create(notes="Pays late, always")
    ticket = make.TicketFactory.create(shop=owner.shop, customer=owner, unit__customer=owner)
    add_note(ticket=ticket, words="Rude on the phone", by=None)
    page = client.get(reverse("customer:page", args=[a_link(ticket)])).text
    assert "Pays late" not in page
    assert "Rude" not in page
