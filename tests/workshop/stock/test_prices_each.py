"""Prices each: fine enough for a ml, rounded once in the sum, and never changed without a trace."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from pytest_django.asserts import assertContains

from specs.numbers import read_number
from tests.factories import PartFactory, StockItemFactory, TicketFactory, UserFactory
from tests.squeezed import squeezed
from workshop.models import PriceChange, StockItem, User
from workshop.web.number_words import plain_price, price_figures
from workshop.work.adding_parts import add_by_hand


@pytest.fixture
def clerk(client: Client) -> User:
    member: User = UserFactory(sets_prices=True)
    client.force_login(member)
    return member


@pytest.fixture
def oil(clerk: User) -> StockItem:
    part = PartFactory(measure="ml", description="Fell Fluid 5", bottle_ml=1000)
    return StockItemFactory(shop=clerk.shop, part=part, price=Decimal("0.05"), cost=None)


def terms(item: StockItem, **changes: str) -> dict[str, str]:
    sent = {"seen_version": str(item.version), "price": "0.05", "cost": "", "shelf": "", "supplier": ""}
    return sent | {"lead_days": "", "reorder_level": "0"} | changes


@given(st.decimals(min_value=0, max_value=999_999, places=4))
def test_a_price_that_the_app_wrote_reads_back(price: Decimal) -> None:
    for written in (price_figures(price), plain_price(price)):
        assert read_number(written, decimals=4) == price


@pytest.mark.parametrize(
    ("price", "words"), [("11.5000", "11.50"), ("0.0149", "0.0149"), ("0.125", "0.125"), ("1440", "1,440.00")]
)
def test_a_price_has_two_decimals_and_more_only_where_it_has_more(price: str, words: str) -> None:
    assert price_figures(Decimal(price)) == words


@pytest.mark.django_db
def test_a_litre_at_14_90_has_its_price_and_the_sum_is_rounded_once(client: Client, oil: StockItem) -> None:
    answer = client.post(reverse("stores:edit", args=[oil.pk]), terms(oil, price="0,0149"), follow=True)
    assertContains(answer, "0.0149")
    oil.refresh_from_db()
    assert oil.price == Decimal("0.0149")
    line = add_by_hand(ticket=TicketFactory(shop=oil.shop), part=oil.part, quantity=Decimal(150), by=None)
    line.refresh_from_db()
    assert (line.unit_price, line.total) == (Decimal("0.0149"), Decimal("2.24"))  # 2.235, half up


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("typed", "reason"),
    [("0.00001", "no more than 4 decimal places"), ("1,125", "could be 1.1250 or 1125"), ("-1", "not below zero")],
)
def test_a_price_that_cannot_be_comes_back_at_its_field(
    client: Client, oil: StockItem, typed: str, reason: str
) -> None:
    answer = client.post(reverse("stores:edit", args=[oil.pk]), terms(oil, price=typed, shelf="D7"))
    assertContains(answer, reason, status_code=422)
    assertContains(answer, f'name="price" value="{typed}"', status_code=422)
    assertContains(answer, 'name="shelf" value="D7"', status_code=422)
    assert not PriceChange.objects.exists()


@pytest.mark.django_db
def test_who_changed_a_price_is_shown_with_old_and_new(client: Client, clerk: User, oil: StockItem) -> None:
    address = reverse("stores:edit", args=[oil.pk])
    page = client.post(address, terms(oil, price="0.06", cost="0.03"), follow=True)
    assertContains(page, "How its price changed")
    assert f"{clerk}: price 0.05 EUR, now 0.06 EUR" in squeezed(page.text)
    assert f"{clerk}: cost not known before, now 0.03 EUR" in squeezed(page.text)
    oil.refresh_from_db()
    client.post(address, terms(oil, price="0.06", cost="0.03", shelf="D9"))
    assert PriceChange.objects.count() == 2  # the same again, and another shelf, leave no trace
    oil.refresh_from_db()
    client.post(address, terms(oil, price="0.05", cost=""))
    traced = PriceChange.objects.order_by("pk").values_list("what", "old", "new", "by")
    assert list(traced)[2:] == [
        ("price", Decimal("0.06"), Decimal("0.05"), clerk.pk),
        ("cost", Decimal("0.03"), None, clerk.pk),
    ]
