"""What is to be ordered of many suppliers stands on several pages, and nothing gets lost between them."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import PartFactory, PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from workshop.models import Shop, StockItem
from workshop.stores.basket_pages import pages_of

PAGE, SEND = "/stores/to-order/", "/stores/to-order/order/"


@pytest.mark.parametrize(
    ("counts", "pages"),
    [
        ([], [[]]),
        ([3, 2], [[0, 1]]),
        ([3, 3, 9], [[0, 1], [2]]),
        ([900, 1, 1], [[0, 1, 2]]),
        ([900, 3, 5], [[0], [1], [2]]),
        ([900, 3, 3], [[0], [1, 2]]),
        ([900, 900], [[0], [1]]),
    ],
)
def test_suppliers_fill_pages_in_their_order(counts: list[int], pages: list[list[int]]) -> None:
    assert pages_of(counts, each=4, most=6) == pages


@pytest.fixture
def shop(client: Client) -> Shop:
    member = UserFactory(mechanic=True)
    client.force_login(member)
    return member.shop  # type: ignore[return-value]


def lacking(shop: Shop, supplier: str) -> StockItem:
    item = StockItemFactory(shop=shop, supplier=supplier, reorder_level=0, part=PartFactory())
    PartLineFactory(ticket=TicketFactory(shop=shop), part=item.part, quantity=3)
    return item


def names(page: Any) -> list[str]:
    return [name for name, *_ in page.context["suppliers"]]


@pytest.mark.django_db
def test_pages_say_where_each_supplier_is(client: Client, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.stores.basket_views.ROWS_A_SUPPLIER", 2)
    monkeypatch.setattr("workshop.stores.basket_views.ROWS_A_PAGE", 3)
    assert reverse("stores:to_order") == PAGE
    for supplier in ("North", "South", "West"):
        items = [lacking(shop, supplier) for _ in range(3)]
    first, last = client.get(PAGE), client.get(PAGE, {"page": "3"})
    assert (names(first), names(last)) == (["North"], ["West"])
    assert "3 suppliers, 9 rows" in first.text
    assert f"{PAGE}?page=3#supplier-1" in first.text
    assert names(client.get(PAGE, {"page": "99"})) == ["West"]
    assert names(client.get(PAGE, {"page": "x"})) == ["North"]
    assert names(client.get(PAGE, {"all": "South"})) == ["South"]
    assert f'name="quantity-{items[-1].pk}"' not in last.text
    # What is asked for by hand is on the page that comes, also where it is not among the first of its supplier.
    wanted = client.get(PAGE, {"also": str(items[-1].pk)})
    assert names(wanted) == ["West"]
    assert f'name="quantity-{items[-1].pk}"' in wanted.text
    # A refusal brings back the page of the supplier that was sent, with what was typed.
    refused = client.post(SEND, {"supplier": "West", "item": items[-1].pk, f"quantity-{items[-1].pk}": "two"})
    assert (refused.status_code, names(refused)) == (422, ["West"])
    assert 'value="two"' in refused.text
