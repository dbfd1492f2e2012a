"""The owner says once which country the shop is in; what nobody chose otherwise follows."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertRedirects

from tests.factories import ShopFactory, UserFactory
from workshop.models import BenchCapacity, Shop, TaxRules

pytestmark = pytest.mark.django_db
ADDRESS = "office:shop_settings"


@pytest.fixture
def shop() -> Shop:
    return ShopFactory.create()


@pytest.fixture
def office(client: Client, shop: Shop) -> Client:
    client.force_login(UserFactory(shop=shop, owner=True))
    return client


def save(office: Client, **changed: str) -> None:
    page = office.get(reverse(ADDRESS))
    form = page.context["form"]
    kept = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in kept.items() if value is not None and value is not False}
    answer = office.post(reverse(ADDRESS), {**sent, **changed, "seen_version": page.context["seen_version"]})
    assert answer.status_code == 302, answer.context["form"].errors
    assertRedirects(answer, reverse(ADDRESS), fetch_redirect_response=False)


def holidays_of(shop: Shop) -> tuple[str, str]:
    return BenchCapacity.objects.values_list("holiday_country", "holiday_subdivision").get(shop=shop)


def test_paper_and_holidays_follow_and_the_page_says_so(office: Client, shop: Shop) -> None:
    save(office, country="US")
    assertContains(office.get(reverse(ADDRESS)), "The paper is US Letter now.")
    shop.refresh_from_db()
    assert (shop.country, shop.paper) == ("US", "Letter")
    assert holidays_of(shop) == ("US", "")
    save(office, country="AU")
    shop.refresh_from_db()
    assert (shop.paper, *holidays_of(shop)) == ("A4", "AU", "")
    assertContains(office.get(reverse("office:receipts")), "ABN")


def test_what_was_chosen_stays(office: Client, shop: Shop) -> None:
    BenchCapacity.objects.create(shop=shop, holiday_country="DE", holiday_subdivision="BY")
    save(office, country="CA", paper="A4")
    shop.refresh_from_db()
    assert holidays_of(shop) == ("DE", "BY")
    save(office, paper="A4")  # somebody takes the other paper on purpose
    save(office, country="MX")
    shop.refresh_from_db()
    assert (shop.country, shop.paper) == ("MX", "A4")


def test_a_country_that_is_none_is_said_beside_the_field(office: Client, shop: Shop) -> None:
    page = office.get(reverse(ADDRESS))
    answer = office.post(reverse(ADDRESS), {"country": "QQ", "seen_version": page.context["seen_version"]})
    assert answer.context["form"].errors["country"]
    shop.refresh_from_db()
    assert shop.country == ""


def tax_name_of(shop: Shop) -> str:
    return TaxRules.objects.values_list("name", flat=True).get(shop=shop)


def test_the_name_of_the_tax_follows_and_the_page_says_so(office: Client, shop: Shop) -> None:
    rules = TaxRules.objects.create(shop=shop, name="VAT")
    save(office, country="US")
    assertContains(office.get(reverse(ADDRESS)), "The tax is called Sales tax now")
    assert tax_name_of(shop) == "Sales tax"
    assert TaxRules.objects.get(shop=shop).version == rules.version + 1, "who has the prices open is told"
    save(office, country="CA")
    assert tax_name_of(shop) == "GST/HST"


def test_a_tax_that_was_called_otherwise_keeps_its_name(office: Client, shop: Shop) -> None:
    TaxRules.objects.create(shop=shop, name="Added tax")
    save(office, country="US")
    assert tax_name_of(shop) == "Added tax"
    save(office, phone="0555 20")
    assert tax_name_of(shop) == "Added tax"


def test_a_shop_without_tax_rules_is_offered_the_name(office: Client, shop: Shop) -> None:
    save(office, country="AU")
    assert not TaxRules.objects.filter(shop=shop).exists()
    assert office.get(reverse("office:prices")).context["form"]["name"].value() == "GST"
