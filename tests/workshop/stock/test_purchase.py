"""Orders, goods received against them in part, and tickets whose parts are here."""

from __future__ import annotations

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db.models import ProtectedError
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from tests.at_once import at_once
from tests.factories import PartFactory, PartLineFactory, ShopFactory, StockItemFactory, StockMovementFactory
from tests.factories import TicketFactory as MakeTicket
from tests.known import known
from workshop.documents.purchase_list import list_csv
from workshop.models import OrderLine, PurchaseOrder, Shop, StockItem, StockMovement, Ticket
from workshop.stock.moving import level_of
from workshop.stock.ordering import (
    MoreThanOrdered,
    OrderClosed,
    close_order,
    open_quantities,
    place_order,
    receive_goods,
)
from workshop.stock.sharing import ExpectedDelivery
from workshop.stock.shortages import deliveries_of, stores_standing
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def item(shop: Shop) -> StockItem:
    return StockItemFactory(shop=shop, supplier="North", lead_days=3, reorder_level=Decimal(0))


def ordered(item: StockItem, quantity: int = 4) -> PurchaseOrder:
    return place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(quantity)}, by=None)


def received(order: PurchaseOrder, quantity: str, seen: int | None = None) -> list[StockMovement]:
    line = order.lines.get()
    version = PurchaseOrder.objects.get(pk=order.pk).version if seen is None else seen
    return receive_goods(order=order, seen_version=version, quantities={line.pk: Decimal(quantity)}, by=None)


class TestOrdering:
    def test_an_order_keeps_number_cost_and_the_day_it_is_expected(self, item: StockItem) -> None:
        first, second = ordered(item), ordered(item)
        assert (first.number, second.number) == (1, 2)
        assert first.lines.get().cost == Decimal("14.00")
        assert first.expected_on == timezone.localdate() + dt.timedelta(days=3)
        assert [one.quantity for one in deliveries_of(item.shop)[item.pk]] == [4, 4]

    @pytest.mark.parametrize("quantity", ["0", "-2"])
    def test_nothing_of_a_part_is_refused(self, item: StockItem, quantity: str) -> None:
        with pytest.raises(ValidationError, match="above zero"):
            place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(quantity)}, by=None)
        assert not PurchaseOrder.objects.exists()

    def test_nothing_chosen_no_supplier_or_another_supplier_is_refused(self, item: StockItem) -> None:
        one = {item.pk: Decimal(1)}
        for supplier, quantities, why in (
            ("North", {}, "at least one"), ("", one, "which supplier"), ("South", one, "does not come from South"),
        ):  # fmt: skip
            with pytest.raises(ValidationError, match=why):
                place_order(shop=item.shop, supplier=supplier, quantities=quantities, by=None)

    def test_another_shops_item_is_refused(self, item: StockItem) -> None:
        with pytest.raises(ValidationError, match="no longer kept"):
            place_order(shop=ShopFactory(), supplier="North", quantities={item.pk: Decimal(1)}, by=None)


class TestReceiving:
    def test_goods_come_in_part(self, item: StockItem) -> None:
        order = ordered(item)
        received(order, "1")
        assert (level_of(item), list(open_quantities(order).values())) == (Decimal(1), [Decimal(3)])
        day = timezone.localdate() + dt.timedelta(days=3)
        assert deliveries_of(item.shop) == {item.pk: [ExpectedDelivery(Decimal(3), day, order.number)]}
        assert PurchaseOrder.objects.get().closed_at is None
        received(order, "3")
        assert PurchaseOrder.objects.get().closed_at is not None
        assert deliveries_of(item.shop) == {}
        assert known(StockMovement.objects.first()).note == "Order 1"

    def test_never_more_than_ordered_and_nothing_of_it(self, item: StockItem) -> None:
        other = StockItemFactory(shop=item.shop, supplier="North")
        both = {item.pk: Decimal(2), other.pk: Decimal(2)}
        order = place_order(shop=item.shop, supplier="North", quantities=both, by=None)
        came = {line.pk: Decimal(2 if line.item == item else 3) for line in order.lines.all()}
        with pytest.raises(MoreThanOrdered, match="more than the 2 still to come"):
            receive_goods(order=order, seen_version=1, quantities=came, by=None)
        assert not StockMovement.objects.exists()
        assert PurchaseOrder.objects.get().version == 1

    def test_a_closed_order_takes_nothing(self, item: StockItem) -> None:
        order = ordered(item)
        close_order(order=order, seen_version=1)
        with pytest.raises(OrderClosed):
            received(order, "1")
        with pytest.raises(OrderClosed):
            close_order(order=order, seen_version=2)
        assert deliveries_of(item.shop) == {}

    def test_a_line_of_another_order_is_refused(self, item: StockItem) -> None:
        order, other = ordered(item), ordered(item)
        with pytest.raises(ValidationError, match="not of this order"):
            receive_goods(order=order, seen_version=1, quantities={other.lines.get().pk: Decimal(1)}, by=None)

    def test_an_empty_delivery_is_refused(self, item: StockItem) -> None:
        with pytest.raises(ValidationError, match="how many came"):
            receive_goods(order=ordered(item), seen_version=1, quantities={}, by=None)


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_of_many_who_receive_the_same_delivery_one_does(self) -> None:
        item = StockItemFactory(supplier="North")
        order = ordered(item)

        def press(_: int) -> str:
            try:
                received(PurchaseOrder.objects.get(pk=order.pk), "4", seen=1)
            except StaleVersion:
                return "told"
            return "received"

        assert sorted(at_once(press)) == ["received"] + ["told"] * 5
        assert level_of(item) == 4

    def test_orders_at_once_have_numbers_of_their_own(self) -> None:
        item = StockItemFactory(supplier="North")
        numbers = at_once(lambda _: str(ordered(StockItem.objects.select_related("shop").get(pk=item.pk)).number))
        assert sorted(numbers) == ["1", "2", "3", "4", "5", "6"]


class TestPartsHere:
    def waiting(self, shop: Shop, item: StockItem, days: int, quantity: int = 2) -> Ticket:
        promised = timezone.localdate() + dt.timedelta(days=days)
        ticket = MakeTicket(shop=shop, state="waiting", waiting_for="parts", promised_on=promised)
        PartLineFactory(ticket=ticket, part=item.part, quantity=quantity)
        return ticket

    def here(self, shop: Shop) -> set[int]:
        return stores_standing(shop).parts_here()

    def test_goods_bring_the_earliest_promise_forward(self, shop: Shop, item: StockItem) -> None:
        later, sooner = self.waiting(shop, item, days=9), self.waiting(shop, item, days=1)
        assert self.here(shop) == set()
        order = ordered(item)
        received(order, "2")
        assert self.here(shop) == {sooner.pk}
        received(order, "2")
        assert self.here(shop) == {sooner.pk, later.pk}

    def test_a_ticket_that_lacks_anything_is_not_here(self, shop: Shop, item: StockItem) -> None:
        ticket = self.waiting(shop, item, days=1)
        StockMovementFactory(item=item)
        assert self.here(shop) == {ticket.pk}
        PartLineFactory(ticket=ticket, part=None, words="Odd circlip")
        assert self.here(shop) == set()

    def test_what_is_missing_names_the_promise(self, shop: Shop, item: StockItem) -> None:
        ticket = self.waiting(shop, item, days=4, quantity=3)
        StockMovementFactory(item=item, quantity=1)
        not_kept = PartLineFactory(ticket=ticket, part=PartFactory(description="Spring, test"))
        standing = stores_standing(shop)
        (row,) = standing.items
        (share,) = row.missing_shares
        assert (row.missing, row.suggested, share.want.number) == (Decimal(2), Decimal(2), ticket.number)
        assert share.want.promised_on == ticket.promised_on
        assert [(other.title, other.part) for other in standing.not_kept] == [("Spring, test", not_kept.part)]

    def test_many_tickets_take_as_many_queries_as_one(
        self, shop: Shop, item: StockItem, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        for days in range(8):
            self.waiting(shop, item, days)
            ordered(StockItemFactory(shop=shop, supplier="North"))
        with django_assert_num_queries(4):
            stores_standing(shop)


def test_the_list_is_safe_in_a_spreadsheet(item: StockItem) -> None:
    item.part.description = "=1+1"
    item.part.save()
    order = ordered(item)
    (row,) = csv.DictReader(io.StringIO(list_csv(order).decode("utf-8-sig")))
    assert (row["description"], row["quantity"], row["cost"]) == ("'=1+1", "4", "56.00")


def test_a_part_on_order_cannot_be_deleted(item: StockItem) -> None:
    ordered(item)
    with pytest.raises(ProtectedError):
        item.delete()
    assert OrderLine.objects.count() == 1
