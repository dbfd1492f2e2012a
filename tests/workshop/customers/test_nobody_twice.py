"""Booking in: nobody is kept twice by a known phone number, and what was typed last is what counts."""

from __future__ import annotations

import re

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.workshop.counter.test_counter_screens import HTMX, booking
from workshop.counter.finding import model_meant
from workshop.customers.adding import add_customer
from workshop.customers.known import of_that_phone, refuse_known_phone
from workshop.models import Customer, Shop, SuspensionUnit, Ticket

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    made: Shop = factories.ShopFactory()
    return made


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(factories.UserFactory(shop=shop))
    return client


@pytest.fixture
def petra(shop: Shop) -> Customer:
    return add_customer(shop=shop, by=None, name="Petra Quennell", phone="0555 020 300")


@pytest.mark.parametrize(
    "phone", ["0555 020 300", "0555-020300", "+44 555 020 300", "(0555) 02 03 00", "0044555020300"]
)
def test_a_phone_number_is_known_however_it_is_written(shop: Shop, petra: Customer, phone: str) -> None:
    assert of_that_phone(shop, phone) == [petra]
    with pytest.raises(ValidationError) as refused:
        refuse_known_phone(shop=shop, phone=phone)
    assert "is the number of Petra Quennell" in refused.value.message_dict["phone"][0]
    refuse_known_phone(shop=shop, phone=phone, shared=phone)


@pytest.mark.parametrize("phone", ["", "300", "0555 020 301", "555 0203 001", "no phone"])
def test_another_number_or_none_is_nobodys(shop: Shop, petra: Customer, phone: str) -> None:
    assert of_that_phone(shop, phone) == []
    refuse_known_phone(shop=shop, phone=phone)


def test_a_number_of_another_shop_is_not_known(petra: Customer) -> None:
    assert of_that_phone(factories.ShopFactory(), petra.phone) == []


def test_a_mistyped_name_with_a_known_phone_is_asked_about_and_two_people_may_share_one(
    counter: Client, petra: Customer
) -> None:
    data = booking(**{"customer-name": "Petra Kwennell", "customer-phone": "+44 555 020300"})
    refused = counter.post(reverse("counter:book_in"), data)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "is the number of Petra Quennell" in page
    assert f'id="customer-{petra.pk}"' in page  # to be chosen at once
    assert 'name="customer-shares_phone" value="44555020300"' in page
    for typed in ("Petra Kwennell", "KP-1", "Green hardtail", "Sits low."):
        assert typed in page
    assert Customer.objects.count() == 1
    shared = {**data, "customer-shares_phone": "44555020300"}
    other_fault = counter.post(reverse("counter:book_in"), {**shared, "ticket-complaint_words": ""}).content.decode()
    assert 'value="44555020300" id="id_customer-shares_phone" checked' in other_fault
    another_number = {**shared, "customer-phone": "0555 020 300"}
    assert counter.post(reverse("counter:book_in"), another_number).status_code == 422
    assert counter.post(reverse("counter:book_in"), shared).status_code == 302
    assert Ticket.objects.get().customer.name == "Petra Kwennell"
    assert Customer.objects.count() == 2


def test_the_customers_own_page_asks_too(counter: Client, petra: Customer) -> None:
    data = {"name": "Ilan Quennell", "phone": "0555020300", "preferred_contact": "phone"}
    refused = counter.post(reverse("counter:new_customer"), data)
    assert refused.status_code == 422
    assert "is the number of Petra Quennell" in refused.content.decode()
    assert 'name="shares_phone" value="0555020300"' in refused.content.decode()
    assert counter.post(reverse("counter:new_customer"), {**data, "shares_phone": "0555020300"}).status_code == 302
    assert Customer.objects.count() == 2


def test_a_known_customer_is_booked_in_with_whatever_stands_in_the_phone_field(
    counter: Client, petra: Customer
) -> None:
    data = booking(**{"customer": petra.pk, "customer-phone": petra.phone})
    assert counter.post(reverse("counter:book_in"), data).status_code == 302
    assert Customer.objects.count() == 1


def test_a_model_typed_in_full_counts_also_where_no_list_of_models_was_seen(counter: Client) -> None:
    model = factories.SuspensionModelFactory(maker="Kestrigan", name="Plume 130")
    data = booking(**{"unit-described_as": " kestrigan  PLUME 130"})
    assert counter.post(reverse("counter:book_in"), data).status_code == 302
    assert SuspensionUnit.objects.get().model == model


@pytest.mark.parametrize(("typed", "listed_for", "chosen", "meant"), [
    ("plume", "plume", "", None),  # as typed, under the list of that text
    ("plume", "plume", "plume", "plume"),
    ("kestrigan plume 130", "plume", "", "plume"),  # typed on since: the text is the newer word
    ("kestrigan plume 130", "kestrigan plume 130", "", None),  # "as typed" was pressed under that very text
    ("brindlemoor tor 36", "plume", "plume", "tor"),
    ("brindlemoor", "plume", "plume", None),  # not another fork's values
    ("kestrigan", "plume", "plume", "plume"),
    ("", "plume", "plume", "plume"),
    ("an old fork", None, "plume", "plume"),  # sent without a list, as before
    ("an old fork", None, "", None),
    ("tor 36", None, "", "tor"),
])  # fmt: skip
def test_the_model_that_is_meant(typed: str, listed_for: str | None, chosen: str, meant: str | None) -> None:
    models = {
        "plume": factories.SuspensionModelFactory(maker="Kestrigan", name="Plume 130"),
        "tor": factories.SuspensionModelFactory(maker="Brindlemoor", name="Tor 36"),
    }
    key = models[chosen].pk if chosen else None
    found = model_meant(typed, listed_for=listed_for, chosen=key, hits=list(models.values()))
    assert found == (models[meant].pk if meant else None)


def test_two_models_of_one_name_are_not_chosen_between() -> None:
    hits = [factories.SuspensionModelFactory(name="Plume 130", year_from=year, year_to=year) for year in (2019, 2021)]
    assert model_meant("kestrigan plume 130", listed_for="", chosen=None, hits=hits) is None


def is_chosen(page: str, pk: int) -> bool:
    return re.search(rf'<input type="radio"[^>]* value="{pk}"[^>]* checked', page) is not None


def test_another_customer_leaves_the_first_ones_fork_behind_but_not_one_found_by_its_serial(
    counter: Client, shop: Shop
) -> None:
    first = factories.SuspensionUnitFactory(shop=shop, serial="KP-00129", search_text="plume kp-00129 kp00129")
    second = factories.SuspensionUnitFactory(shop=shop, serial="BT-77001", search_text="tor bt-77001 bt77001")

    def things(customer: object, **typed: object) -> str:
        chosen = f"customer-{customer}"
        data = {"customer": customer, "unit": first.pk, **typed}
        answer = counter.post(reverse("counter:book_in_things"), data, **HTMX, HTTP_HX_TRIGGER=chosen)
        return answer.content.decode()

    page = things(second.customer_id)
    assert first.serial not in page
    assert is_chosen(page, second.pk)
    for typed in ({}, {"customer-name": ""}, {"customer-name": "Zelda"}):
        assert first.serial not in things("new", **typed)
    page = things(second.customer_id, **{"unit-serial": "kp00129"})
    assert is_chosen(page, first.pk)
    assert "It has changed hands" in page
