"""What a delivery cost is what the stores are worth by it, and goes with it when it is booked back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.utils import timezone

from tests.factories import StockItemFactory
from tests.workshop.stock.test_buying import came, fresh, ordered
from workshop.models import PurchaseOrder, StockItem
from workshop.stock.moving import receive
from workshop.stock.receiving import book_delivery_back
from workshop.stock.value import value_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def item() -> StockItem:
    return StockItemFactory(supplier="North", cost=Decimal("2.00"), reorder_level=Decimal(0))


def worth(item: StockItem) -> Decimal:
    return value_on(item.shop, timezone.localdate()).value


def test_it_is_worth_what_was_paid_and_nothing_once_it_is_booked_back(item: StockItem) -> None:
    receive(item=item, quantity=Decimal(10), by=None)
    order = ordered(item)
    delivery = came(order, good=5, pack_price="2.60")
    assert worth(item) == Decimal("33.00")
    book_delivery_back(order=order, seen_version=fresh(order).version, delivery=delivery, why="Typed twice", by=None)
    assert worth(item) == Decimal("20.00")


def test_an_order_in_another_currency_says_nothing_of_it(item: StockItem) -> None:
    order = ordered(item)
    PurchaseOrder.objects.filter(pk=order.pk).update(currency="CHF")
    came(order, good=5, pack_price="2.60")
    assert worth(item) == Decimal("10.00")  # at the 2.00 that the stores say
