"""Suppliers, deliveries, changes and returns on the screen: what is refused stands at its place and loses nothing."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.factories import StockItemFactory, UserFactory
from workshop.models import BasketLine, Delivery, OrderLine, PurchaseOrder, SentBack, StockItem, Supplier, SupplierPart
from workshop.stock.moving import level_of
from workshop.stock.ordering import place_order, receive_goods

pytestmark = pytest.mark.django_db


@pytest.fixture
def item(client: Client) -> StockItem:
    member = UserFactory(mechanic=True)
    client.force_login(member)
    return StockItemFactory(shop=member.shop, supplier="North", part__description="Wiper, test")


@pytest.fixture
def order(item: StockItem) -> PurchaseOrder:
    return place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(10)}, by=None)


def line_of(order: PurchaseOrder) -> OrderLine:
    return order.lines.get()


def receive(client: Client, order: PurchaseOrder, **fields: Any) -> Any:
    pk = line_of(order).pk
    data = {"seen_version": PurchaseOrder.objects.get(pk=order.pk).version}
    data |= {f"{name}-{pk}": value for name, value in fields.items()}
    return client.post(reverse("stores:receive_order", args=[order.number]), data)


class TestDeliveries:
    def test_a_delivery_with_all_that_can_be_said_of_it(self, client: Client, order: PurchaseOrder) -> None:
        answer = receive(client, order, quantity="6", damaged="1", wrong="2", missing="1", price="15", note="Lip torn")
        assert answer.status_code == 302
        page = client.get(reverse("stores:order", args=[order.number])).text
        for words in (
            "1 damaged",
            "2 wrong",
            "1 missing",
            "15.00 EUR",
            "Lip torn",
            "3 damaged or wrong, to go back",
        ):
            assert words in " ".join(page.split()), words

    def test_more_than_ordered_is_asked_with_everything_kept_and_then_booked(
        self, client: Client, order: PurchaseOrder
    ) -> None:
        answer = receive(client, order, quantity="12", price="13,50")
        assert answer.status_code == 422
        assert "12 is more than the 10 still to come" in answer.text
        assert 'value="13,50"' in answer.text
        assert receive(client, order, quantity="12", price="13,50", note="Two for free").status_code == 302
        assert level_of(line_of(order).item) == 12

    def test_an_odd_price_is_asked_and_a_tick_holds_for_that_price_alone(
        self, client: Client, order: PurchaseOrder
    ) -> None:
        name = f"meant-{line_of(order).pk}"
        answer = receive(client, order, quantity="2", price="140")
        assert (answer.status_code, f'name="{name}" value="140"' in answer.text) == (422, True)
        assert receive(client, order, quantity="2", price="1400", meant="140").status_code == 422
        assert level_of(line_of(order).item) == 0
        assert receive(client, order, quantity="2", price="140", meant="140").status_code == 302

    @pytest.mark.parametrize(
        ("fields", "why"),
        [
            ({"quantity": "0.5"}, "counted in pieces"),
            ({"quantity": "2", "price": "many"}, "is no number"),
            ({"quantity": "2", "price": "-3"}, "is no price"),
            ({"quantity": "2", "price": "9999999"}, "is no price"),
            ({"quantity": "2", "damaged": "1"}, "say what was damaged"),
            ({"damaged": "-1"}, "above zero"),
        ],
    )
    def test_what_cannot_be_is_refused(
        self, client: Client, order: PurchaseOrder, fields: dict[str, str], why: str
    ) -> None:
        answer = receive(client, order, **fields)
        assert (answer.status_code, why in answer.text) == (422, True)
        assert not Delivery.objects.exists()

    def test_booked_back_by_a_press_with_its_reason(self, client: Client, order: PurchaseOrder) -> None:
        receive(client, order, quantity="10")
        address = reverse("stores:order_delivery_back", args=[order.number, Delivery.objects.get().pk])
        assert "Say why" in client.post(address, {"seen_version": 2}, follow=True).text
        assert "Booked back" in client.post(address, {"seen_version": 2, "why": "Other box"}, follow=True).text
        assert "Somebody changed" in client.post(address, {"seen_version": 2, "why": "Other box"}, follow=True).text
        assert level_of(line_of(order).item) == 0


class TestChanges:
    def lines(self, client: Client, order: PurchaseOrder, by: str = "supplier", seen: int = 1, **fields: str) -> Any:
        pk = line_of(order).pk
        data = {f"{name}-{pk}": value for name, value in ({"ordered": "10", "price": "14"} | fields).items()}
        address = reverse("stores:order_lines", args=[order.number])
        return client.post(address, data | {"seen_version": seen, "by_whom": by})

    def test_confirmed_with_another_day(self, client: Client, order: PurchaseOrder) -> None:
        day = (timezone.localdate() + dt.timedelta(days=8)).isoformat()
        assert self.lines(client, order, price="14,20", expected=day).status_code == 302
        assert (line_of(order).cost, str(line_of(order).expected_on)) == (Decimal("14.2"), day)
        assert "Confirmed" in client.get(reverse("stores:order", args=[order.number])).text

    @pytest.mark.parametrize(
        ("fields", "why", "status"),
        [
            ({"ordered": ""}, "or 0 to cancel it", 422),
            ({"ordered": "2.5"}, "counted in pieces", 422),
            ({"price": "0"}, "free of charge", 422),
            ({"expected": "soon"}, "Enter a day as", 422),
            ({"expected": "2001-01-01"}, "before it was ordered", 422),
            ({"seen": 9}, "Somebody changed this order", 409),
        ],
    )
    def test_what_cannot_be_is_refused_and_kept_in_its_field(
        self, client: Client, order: PurchaseOrder, fields: dict[str, Any], why: str, status: int
    ) -> None:
        answer = self.lines(client, order, **fields)
        assert (answer.status_code, why in answer.text) == (status, True)
        for typed in fields.values():
            assert not isinstance(typed, str) or f'value="{typed}"' in answer.text
        assert not order.steps.exists()

    def test_0_cancels_and_the_order_opens_no_more(self, client: Client, order: PurchaseOrder) -> None:
        assert self.lines(client, order, by="shop", ordered="0").status_code == 302
        assert (order.steps.get().kind, PurchaseOrder.objects.get().closed_at is None) == ("cancelled", False)

    def test_a_part_is_put_in_by_either_number(self, client: Client, order: PurchaseOrder) -> None:
        other = StockItemFactory(shop=order.shop, supplier="North")
        SupplierPart.objects.create(item=other, supplier=Supplier.objects.get(), number="N-77")
        address = reverse("stores:order_add", args=[order.number])
        wrong = client.post(address, {"seen_version": 1, "number": "N-78", "quantity": "2"})
        assert (wrong.status_code, "No part kept here has the number" in wrong.text) == (422, True)
        assert client.post(address, {"seen_version": 1, "number": "n-77", "quantity": "2"}).status_code == 302
        twice = client.post(address, {"seen_version": 2, "number": other.part.number, "quantity": "2"})
        assert (twice.status_code, "is in this order" in twice.text) == (422, True)

    def test_sent_another_way_closed_and_opened(self, client: Client, order: PurchaseOrder) -> None:
        for name, more, seen in (
            ("order_sent", {}, 1), ("order_sent", {"not": "1"}, 2), ("close_order", {}, 3), ("reopen_order", {}, 4)
        ):  # fmt: skip
            client.post(reverse(f"stores:{name}", args=[order.number]), {"seen_version": seen} | more)
        assert [step.kind for step in order.steps.all()] == ["sent", "not_sent", "closed", "opened"]


class TestGivingBack:
    def test_goods_and_money_with_their_way_back(self, client: Client, order: PurchaseOrder) -> None:
        receive(client, order, quantity="10", price="14")
        page, pk = reverse("stores:order_give_back", args=[order.number]), line_of(order).pk
        sent = {"seen_version": 2, "line": f"good-{pk}", "quantity": "11", "reason": "Bent", "replaced": "no"}
        refused = client.post(page, sent)
        assert (refused.status_code, "10 can go back, not 11" in refused.text) == (422, True)
        assert 'value="Bent"' in refused.text
        assert client.post(page, sent | {"quantity": "4"}).status_code == 302
        assert level_of(line_of(order).item) == 6
        money = {"seen_version": 3, "credit": "1", "amount": "56", "note": "CN 1"}
        assert client.post(page, money).status_code == 302
        shown = client.get(reverse("stores:order", args=[order.number])).text
        assert "Total credited: 56.00 EUR" in shown
        back = reverse("stores:order_not_given_back", args=[order.number, SentBack.objects.get().pk])
        client.post(back, {"seen_version": 4})
        credit = reverse("stores:order_not_given_back", args=[order.number, order.credits.get().pk])
        client.post(credit, {"seen_version": 5, "credit": "1"})
        assert level_of(line_of(order).item) == 10
        assert "Total credited: 0.00 EUR" in client.get(reverse("stores:order", args=[order.number])).text

    def test_a_stale_page_sends_nothing_back(self, client: Client, order: PurchaseOrder) -> None:
        receive(client, order, quantity="10")
        page = reverse("stores:order_give_back", args=[order.number])
        sent = {"seen_version": 1, "line": f"good-{line_of(order).pk}", "quantity": "4", "reason": "Bent"}
        answer = client.post(page, sent | {"replaced": "no"})
        assert (answer.status_code, SentBack.objects.count()) == (409, 0)


class TestSuppliers:
    def test_entered_changed_and_archived(self, client: Client, order: PurchaseOrder) -> None:
        supplier = Supplier.objects.get()
        page = reverse("stores:edit_supplier", args=[supplier.pk])
        sent = {"seen_version": 1, "name": "North", "account": "K-1", "currency": "eur", "usual_days": "4"}
        assert client.post(page, sent).status_code == 302
        supplier.refresh_from_db()
        assert (supplier.account, supplier.currency, supplier.usual_days) == ("K-1", "", 4)
        assert client.post(page, sent).status_code == 409
        for wrong, why in (
            ({"currency": "EURO"}, "Shorten this to 3 characters"),
            ({"currency": "1€"}, "three letters"),
            ({"email": "north"}, "valid email"),
            ({"usual_days": "400"}, "no more than 365"),
        ):
            answer = client.post(page, sent | {"seen_version": 2} | wrong)
            assert (answer.status_code, why in answer.text) == (422, True), wrong
            assert f'value="{next(iter(wrong.values()))}"' in answer.text
        address = reverse("stores:archive_supplier", args=[supplier.pk])
        assert f"has order {order.number} open" in client.post(address, {"seen_version": 2}, follow=True).text

    def test_terms_of_a_part_and_an_odd_price(self, client: Client, item: StockItem) -> None:
        page, supplier = reverse("stores:offers", args=[item.pk]), Supplier.objects.get()
        sent = {"supplier": supplier.pk, "number": "N-1", "pack": "10", "price": "14"}
        asked = client.post(page, sent)  # 1.40 each, and it costs 14
        assert (asked.status_code, "Look at the comma" in asked.text) == (422, True)
        assert client.post(page, sent | {"meant": "14"}).status_code == 302
        assert client.post(page, sent | {"price": "0"}).status_code == 422
        assert item.offers.get().each == Decimal("1.4")
        south = Supplier.objects.create(shop=item.shop, name="South")
        client.post(page, sent | {"supplier": south.pk, "number": "", "price": "140"})
        address = reverse("stores:prefer_offer", args=[item.pk, south.offers.get().pk])
        client.post(address, {"seen_version": 1})
        item.refresh_from_db()
        assert item.supplier == "South"

    def test_the_basket_is_kept_and_ordered_from_another(self, client: Client, item: StockItem) -> None:
        south = Supplier.objects.create(shop=item.shop, name="South")
        SupplierPart.objects.create(item=item, supplier=south, pack=10)
        data = {"item": item.pk, f"quantity-{item.pk}": "20", f"supplier-{item.pk}": "South", "supplier": "North"}
        client.post(reverse("stores:place_order"), data | {"keep": "1"})
        assert BasketLine.objects.get().supplier == "South"
        page = client.get(reverse("stores:to_order")).text
        assert "Order from South" in page
        assert "2 × 10" in page
        answer = client.post(reverse("stores:place_order"), data | {"supplier": "South", f"quantity-{item.pk}": "12"})
        assert (answer.status_code, "sold by 10" in answer.text) == (422, True)
        client.post(reverse("stores:place_order"), data | {"supplier": "South"})
        again = client.post(reverse("stores:place_order"), data | {"supplier": "South", "seen_order": "0"})
        assert (again.status_code, PurchaseOrder.objects.count()) == (409, 1)


def test_queries_do_not_grow(client: Client, item: StockItem, order: PurchaseOrder) -> None:
    """As many with eight suppliers, seven deliveries and seven lines as with one of each."""
    supplier = Supplier.objects.get()
    SupplierPart.objects.create(item=item, supplier=supplier, number="S-0")
    pages = [
        reverse(f"stores:{name}", args=args)
        for name, args in (
            ("to_order", []), ("order", [order.number]), ("order_lines", [order.number]), ("suppliers", []),
            ("order_give_back", [order.number]), ("supplier", [supplier.pk]), ("offers", [item.pk]),
            ("mail_order", [order.number]), ("item", [item.pk]), ("part_numbers", [item.part_id]),
        )
    ]  # fmt: skip

    def counted() -> dict[str, int]:
        found = {}
        for page in pages:
            client.get(page)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(page).status_code == 200, page
            found[page] = len(queries)
        return found

    one_more(order, item, 0)
    few = counted()
    for number in range(1, 7):
        one_more(order, item, number)
    assert counted() == few


def one_more(order: PurchaseOrder, item: StockItem, number: int) -> None:
    """Another supplier of the part, another line with its step, and a delivery of it."""
    supplier = Supplier.objects.create(shop=item.shop, name=f"Supplier of {number}")
    SupplierPart.objects.create(item=item, supplier=supplier, number=f"T-{number}")
    other = StockItemFactory(shop=item.shop, supplier="North", reorder_level=Decimal(99))
    line = order.lines.create(item=other, ordered=Decimal(4))
    order.steps.create(kind="added", line=line, at=timezone.now())
    order.refresh_from_db()
    receive_goods(order=order, seen_version=order.version, quantities={line.pk: Decimal(1)}, by=None)
    SentBack.objects.create(
        line=line, what="good", quantity=Decimal(1), reason="Bent", replaced=True, at=timezone.now()
    )
    order.credits.create(amount=Decimal(1), note="CN", at=timezone.now())
