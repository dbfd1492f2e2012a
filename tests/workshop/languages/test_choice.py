"""The language that is chosen for a customer: kept, left alone where nobody is asked, taken over, and erased."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from tests.factories import CustomerFactory, UserFactory
from workshop.customers.language import language_of
from workshop.models import Customer
from workshop.privacy.erasing import erase_customer
from workshop.privacy.merging import merge_customers
from workshop.pseudo_names import ACCENTED, FROM_RIGHT

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("pseudo")]


@pytest.fixture
def customer() -> Customer:
    made: Customer = CustomerFactory(papers_language=ACCENTED)
    return made


def sent_by(clerk: Client, address: str) -> dict[str, str]:
    """What the form sends as it stands."""
    kept = {name: value or "" for name, value in clerk.get(address).context["form"].initial.items()}
    return {**kept, "rider_mass_kg": "", "seen_version": "1"}


@pytest.fixture
def clerk(customer: Customer, client: Client) -> Client:
    client.force_login(UserFactory(shop=customer.shop))
    return client


def stored(customer: Customer) -> str:
    return Customer.with_merged.get(pk=customer.pk).papers_language


@pytest.mark.parametrize("code", [FROM_RIGHT, ""])
def test_the_form_keeps_what_is_chosen(code: str, clerk: Client, customer: Customer) -> None:
    address = reverse("counter:change_customer", args=[customer.pk])
    assert clerk.post(address, {**sent_by(clerk, address), "papers_language": code}).status_code == 302
    assert stored(customer) == code


def test_one_that_is_not_there_is_refused_beside_its_field(clerk: Client, customer: Customer) -> None:
    address = reverse("counter:change_customer", args=[customer.pk])
    refused = clerk.post(address, {**sent_by(clerk, address), "papers_language": "xx", "notes": "Rings twice"})
    assert refused.status_code == 422
    assert list(refused.context["form"].errors) == ["papers_language"]
    assert "Rings twice" in refused.text
    assert stored(customer) == ACCENTED


def test_where_nobody_is_asked_it_stays(clerk: Client, customer: Customer, settings: Settings) -> None:
    settings.LANGUAGES = [("en-gb", "English")]
    address = reverse("counter:change_customer", args=[customer.pk])
    assert clerk.post(address, {**sent_by(clerk, address), "notes": "Rings twice"}).status_code == 302
    assert Customer.objects.get(pk=customer.pk).notes == "Rings twice"
    assert stored(customer) == ACCENTED
    assert language_of(customer) == "en-gb", "and until the language is there again it is the shop's"


@pytest.mark.parametrize(("own", "becomes"), [("", ACCENTED), (FROM_RIGHT, FROM_RIGHT)])
def test_of_two_records_the_first_word_counts(own: str, becomes: str, customer: Customer) -> None:
    kept = CustomerFactory(shop=customer.shop, papers_language=own)
    merge_customers(
        kept=kept, merged=customer, by=None, seen_kept=kept.version, seen_merged=customer.version, reason="Twice"
    )
    assert stored(kept) == becomes


def test_who_is_erased_speaks_no_language(customer: Customer) -> None:
    erase_customer(customer=customer, by=None)
    assert stored(customer) == ""
