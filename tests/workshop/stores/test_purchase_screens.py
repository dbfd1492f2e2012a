"""What is missing, orders and receiving on the screen; tickets that come forward."""

from __future__ import annotations

import datetime as dt
import io
from decimal import Decimal
from typing import Any

import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from tests.factories import PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from workshop.models import PurchaseOrder, StockItem, Ticket, User
from workshop.stock.moving import level_of, receive
from workshop.stock.ordering import place_order, receive_goods

pytestmark = pytest.mark.django_db


@pytest.fixture
def mechanic(client: Client) -> User:
    member: User = UserFactory(mechanic=True)
    client.force_login(member)
    return member


@pytest.fixture
def item(mechanic: User) -> StockItem:
    return StockItemFactory(shop=mechanic.shop, supplier="North", lead_days=3, part__description="Wiper, 36 mm")


@pytest.fixture
def ticket(item: StockItem) -> Ticket:
    made = TicketFactory(shop=item.shop, state="waiting", waiting_for="parts")
    PartLineFactory(ticket=made, part=item.part, quantity=2)
    return made


@pytest.fixture
def order(item: StockItem, ticket: Ticket) -> PurchaseOrder:
    return place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(4)}, by=None)


def came(client: Client, order: PurchaseOrder, text: str, seen: int = 1, **more: Any) -> Any:
    line = order.lines.get()
    data = {"seen_version": seen, f"quantity-{line.pk}": text}
    return client.post(reverse("stores:receive_order", args=[order.number]), data, **more)


def test_the_list_says_for_which_promise(client: Client, ticket: Ticket) -> None:
    page = client.get(reverse("stores:to_order")).content.decode()
    assert "Order from North" in page
    assert f"{ticket.number}</a>, promised" in page


def test_an_order_is_made_of_what_is_ticked(client: Client, item: StockItem, ticket: Ticket) -> None:
    data = {"supplier": "North", "item": str(item.pk), f"quantity-{item.pk}": "5"}
    answer = client.post(reverse("stores:place_order"), data, follow=True)
    assert "Order 1 is saved" in answer.content.decode()
    assert PurchaseOrder.objects.get().lines.get().ordered == 5


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        ({"item": []}, "at least one"),
        ({"quantity": "-1"}, "Enter a quantity above zero"),
        ({"quantity": "many"}, "is no number"),
        ({"quantity": "NaN"}, "is no number"),
        ({"quantity": "0.001"}, "two places at most"),
    ],
)
def test_what_cannot_be_ordered_is_refused(
    client: Client, item: StockItem, ticket: Ticket, data: dict[str, Any], reason: str
) -> None:
    sent = {"supplier": "North", "item": data.get("item", str(item.pk)), f"quantity-{item.pk}": data.get("quantity", 2)}
    answer = client.post(reverse("stores:place_order"), sent)
    assert answer.status_code == 422
    assert reason in answer.content.decode()
    assert not PurchaseOrder.objects.exists()


def test_a_refused_quantity_stands_beside_its_field_with_its_reason(
    client: Client, item: StockItem, ticket: Ticket
) -> None:
    name = f"quantity-{item.pk}"
    page = client.post(reverse("stores:place_order"), {"supplier": "North", "item": item.pk, name: "-1"}).text
    assert f'id="{name}" class="part-line__number" name="{name}" value="-1"' in page
    assert f'aria-describedby="{name}-error"' in page
    assert f'<a href="#{name}">Wiper, 36 mm</a>: “-1” cannot be.' in page


def test_what_lacks_nowhere_is_ordered_by_hand(client: Client, item: StockItem) -> None:
    receive(item=item, quantity=Decimal(50), by=None)
    assert "Order from North" not in client.get(reverse("stores:to_order")).text
    page = client.get(reverse("stores:to_order"), {"also": item.pk}).text
    assert "Order from North" in page
    assert "ordered by hand" in page


def test_the_day_the_supplier_names_is_kept(client: Client, order: PurchaseOrder) -> None:
    address = reverse("stores:expect_order", args=[order.number])
    day = timezone.localdate() + dt.timedelta(days=9)
    assert client.post(address, {"seen_version": 1, "expected_on": day.isoformat()}).status_code == 302
    assert PurchaseOrder.objects.get().expected_on == day
    stale = client.post(address, {"seen_version": 1, "expected_on": ""})
    assert (stale.status_code, PurchaseOrder.objects.get().expected_on) == (409, day)
    early = client.post(address, {"seen_version": 2, "expected_on": "2020-01-01"})
    assert early.status_code == 422
    assert "before it was ordered" in early.text
    assert 'value="2020-01-01"' in early.text
    assert client.post(address, {"seen_version": 2, "expected_on": "soon"}).status_code == 422
    assert (PurchaseOrder.objects.get().version, PurchaseOrder.objects.get().expected_on) == (2, day)


def test_receiving_brings_the_ticket_forward(client: Client, order: PurchaseOrder, ticket: Ticket) -> None:
    board = client.get(reverse("bench:board")).content.decode()
    assert "Parts are here" not in board
    page = came(client, order, "2", follow=True).content.decode()
    assert f"The parts of ticket {ticket.number} are here" in page
    for name in ("bench:board", "counter:outlook"):
        assert "Parts are here" in client.get(reverse(name)).content.decode()
    ticket.refresh_from_db()
    assert ticket.state == "waiting"


def test_more_than_ordered_is_refused_and_kept_in_the_field(client: Client, order: PurchaseOrder) -> None:
    answer = came(client, order, "5")
    assert answer.status_code == 422
    assert "more than the 4 still to come" in answer.content.decode()
    assert 'value="5"' in answer.content.decode()
    line = order.lines.get()
    assert f'id="quantity-{line.pk}-error"' in answer.text
    assert not item_moved(line.item)


def item_moved(item: StockItem) -> bool:
    return item.movements.exists()


def test_the_slower_of_two_is_told(client: Client, order: PurchaseOrder, item: StockItem) -> None:
    receive_goods(order=order, seen_version=1, quantities={order.lines.get().pk: Decimal(1)}, by=None)
    answer = came(client, order, "1", seen=1)
    assert answer.status_code == 409
    assert level_of(item) == 1


def test_closing_makes_the_rest_missing_again(client: Client, order: PurchaseOrder) -> None:
    client.post(reverse("stores:close_order", args=[order.number]), {"seen_version": 1})
    assert PurchaseOrder.objects.get().closed_at is not None
    assert "Order from North" in client.get(reverse("stores:to_order")).content.decode()


def test_the_purchase_list_is_a_tagged_pdf_and_a_csv(client: Client, order: PurchaseOrder) -> None:
    pdf = client.get(reverse("stores:order_pdf", args=[order.number]))
    reader = pypdf.PdfReader(io.BytesIO(pdf.content))
    assert "Wiper, 36 mm" in reader.pages[0].extract_text()
    assert "/StructTreeRoot" in reader.root_object
    assert client.get(reverse("stores:order_csv", args=[order.number])).content.startswith(b"\xef\xbb\xbforder,")


def test_another_shops_order_is_not_found(client: Client, order: PurchaseOrder) -> None:
    client.force_login(UserFactory())
    assert client.get(reverse("stores:order", args=[order.number])).status_code == 404


def test_queries_do_not_grow(
    client: Client, item: StockItem, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(6):
        other = StockItemFactory(shop=item.shop, supplier="North")
        PartLineFactory(ticket=TicketFactory(shop=item.shop), part=other.part)
        receive(item=other, quantity=Decimal(1), by=None)
        place_order(shop=item.shop, supplier="North", quantities={other.pk: Decimal(1)}, by=None)
    for name, most in (("stores:to_order", 16), ("stores:orders", 3)):  # one asks whether prices are due
        client.get(reverse(name))
        with django_assert_num_queries(most):
            client.get(reverse(name))
