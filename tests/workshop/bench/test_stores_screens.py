"""The Stores, from the screen."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories import (
    StockItemFactory,
    StockMovementFactory,
)
from workshop.models import Shop
from workshop.stock.moving import level_of

pytestmark = pytest.mark.django_db


def test_the_list_is_searched_and_says_what_is_short(bench: Client, shop: Shop) -> None:
    StockMovementFactory(item=StockItemFactory(shop=shop, part__description="Foam ring", part__role="foam_ring"))
    StockItemFactory(shop=shop, part__description="Wiper")
    StockItemFactory(part__description="Wiper of another shop")
    rows = bench.get(reverse("stores:stock"), {"q": "wiper"}).context["page"].object_list
    assert [item.part.description for item in rows] == ["Wiper"]
    rows = bench.get(reverse("stores:stock"), {"show": "short"}).context["page"].object_list
    assert [item.part.description for item in rows] == ["Wiper"]


def test_fifty_a_page_in_as_many_queries_as_one(bench: Client, shop: Shop) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            bench.get(reverse("stores:stock"))
        return len(captured)

    StockItemFactory(shop=shop)
    one = queries()
    StockItemFactory.create_batch(60, shop=shop)
    assert queries() == one
    assert len(bench.get(reverse("stores:stock")).context["page"].object_list) == 50


def test_receive_count_and_write_off(bench: Client, shop: Shop) -> None:
    item = StockItemFactory(shop=shop)
    bench.post(reverse("stores:receive", args=[item.pk]), {"quantity": "10"})
    bench.post(reverse("stores:count", args=[item.pk]), {"counted": "8"})
    bench.post(reverse("stores:write_off", args=[item.pk]), {"quantity": "1", "note": "Torn"})
    assert level_of(item) == 7
    refused = bench.post(reverse("stores:write_off", args=[item.pk]), {"quantity": "9", "note": "Torn"})
    assert refused.status_code == 422
    assert "so 9 cannot go out" in refused.text
    assert level_of(item) == 7


def test_another_shops_item_is_not_found(bench: Client) -> None:
    assert bench.get(reverse("stores:item", args=[StockItemFactory().pk])).status_code == 404
