"""Buying as it is done: packs, currencies, changed lines, deliveries, returns, credits; each step with its way back."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import PartFactory, ShopFactory, StockItemFactory
from workshop.documents.purchase_list import list_data
from workshop.models import (
    Delivery,
    OrderLine,
    PurchaseOrder,
    SentBack,
    Shop,
    StockItem,
    StockMovement,
    Supplier,
    SupplierCredit,
)
from workshop.stock.deliveries import bottles_of
from workshop.stock.lead_times import LeadTime, lead_time, lead_time_of
from workshop.stock.moving import NotEnoughInStock, level_of, write_off
from workshop.stock.order_changes import (
    LineRefused,
    LineTerms,
    add_line,
    cancel_line,
    change_lines,
    mark_not_sent,
    mark_sent,
)
from workshop.stock.order_standing import MoreThanOrdered, OrderClosed, open_quantities
from workshop.stock.ordering import OrderedMeanwhile, close_order, open_order_again, place_order
from workshop.stock.receiving import CameIn, DoubtfulPrice, book_delivery, book_delivery_back, unusable_of
from workshop.stock.sending_back import credited, keep_after_all, note_credit, send_back, take_credit_back
from workshop.stock.shortages import deliveries_of
from workshop.stock.suppliers import SupplierData, archive_supplier, save_supplier, set_offer
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def item(shop: Shop) -> StockItem:
    return StockItemFactory(shop=shop, supplier="North", part__description="Wiper, test", reorder_level=Decimal(0))


def told(*values: object) -> tuple[object, ...]:
    """Values side by side, whatever kind of number each is."""
    return values


def north(shop: Shop) -> Supplier:
    return Supplier.objects.get(shop=shop, name="North")


def ordered(item: StockItem, quantity: int = 10) -> PurchaseOrder:
    return place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(quantity)}, by=None)


def came(order: PurchaseOrder, *, meant: bool = False, note: str = "", **what: object) -> Delivery:
    line = order.lines.get()
    order = PurchaseOrder.objects.get(pk=order.pk)
    amounts: dict[str, Any] = {name: Decimal(str(value)) for name, value in what.items()}
    one = CameIn(**amounts, note=note)
    return book_delivery(
        order=order, seen_version=order.version, came={line.pk: one}, by=None, meant=[line.pk] if meant else []
    )


def fresh(order: PurchaseOrder) -> PurchaseOrder:
    return PurchaseOrder.objects.select_related("shop").get(pk=order.pk)


def still_open(order: PurchaseOrder) -> Decimal:
    return next(iter(open_quantities(order).values()))


def stock_is_its_movements(item: StockItem) -> bool:
    total = StockMovement.objects.filter(item=item).aggregate(total=Sum("quantity"))["total"] or 0
    return level_of(item) == total


class TestSuppliers:
    def test_whoever_names_a_supplier_makes_its_record(self, item: StockItem) -> None:
        assert north(item.shop).name == "North"
        StockItem.objects.filter(pk=item.pk).update(supplier="South")
        PurchaseOrder.objects.create(shop=item.shop, number=9, supplier="West", ordered_at=timezone.now())
        assert set(item.shop.suppliers.values_list("name", flat=True)) == {"North", "South", "West"}
        assert not Supplier.objects.filter(name="").exists()

    def test_another_name_goes_along_everywhere(self, item: StockItem) -> None:
        order = ordered(item)
        data = SupplierData(name="Northern", usual_days=4)
        save_supplier(shop=item.shop, supplier=north(item.shop), data=data, seen_version=1)
        assert {StockItem.objects.get().supplier, fresh(order).supplier} == {"Northern"}
        assert [one.name for one in item.shop.suppliers.all()] == ["Northern"]
        with pytest.raises(StaleVersion):
            save_supplier(
                shop=item.shop, supplier=item.shop.suppliers.get(), data=SupplierData(name="N"), seen_version=1
            )

    def test_two_of_a_name_are_refused_whatever_the_case(self, item: StockItem) -> None:
        with pytest.raises(ValidationError, match="Another supplier"):
            save_supplier(shop=item.shop, supplier=None, data=SupplierData(name="nOrTh"))

    def test_one_with_open_orders_is_not_archived_and_the_orders_are_named(self, item: StockItem) -> None:
        order = ordered(item)
        with pytest.raises(ValidationError, match=f"has order {order.number} open"):
            archive_supplier(supplier=north(item.shop), seen_version=1, archived=True)
        close_order(order=order, seen_version=1)
        archive_supplier(supplier=north(item.shop), seen_version=north(item.shop).version, archived=True)
        with pytest.raises(ValidationError, match="archived"):
            ordered(item)
        archive_supplier(supplier=north(item.shop), seen_version=north(item.shop).version, archived=False)
        assert ordered(item).number == 2

    def test_another_currency_waits_for_open_orders_and_takes_old_prices_away(self, item: StockItem) -> None:
        set_offer(item=item, supplier=north(item.shop), number="", pack=Decimal(1), price=Decimal(9))
        order = ordered(item)
        foreign = SupplierData(name="North", currency="CHF")
        with pytest.raises(ValidationError, match="Close that first"):
            save_supplier(shop=item.shop, supplier=north(item.shop), data=foreign)
        close_order(order=order, seen_version=1)
        save_supplier(shop=item.shop, supplier=north(item.shop), data=foreign)
        assert item.offers.get().price is None
        order = ordered(item)
        assert (order.currency, order.lines.get().cost) == ("CHF", None)  # what it costs here is in another currency
        assert "CHF" in list_data(order)["total"]

    @pytest.mark.parametrize(
        ("pack", "price", "why"),
        [("1", "0", "above zero"), ("0", "1", "more than nothing"), ("1.5", "1", "counted in pieces")],
    )
    def test_terms_that_cannot_be(self, item: StockItem, pack: str, price: str, why: str) -> None:
        with pytest.raises(ValidationError, match=why):
            set_offer(item=item, supplier=north(item.shop), number="", pack=Decimal(pack), price=Decimal(price))

    def test_one_number_of_a_supplier_is_one_part(self, item: StockItem) -> None:
        other = StockItemFactory(shop=item.shop, supplier="North")
        set_offer(item=item, supplier=north(item.shop), number="N-1", pack=Decimal(1), price=None)
        with pytest.raises(ValidationError, match="has that number for"):
            set_offer(item=other, supplier=north(item.shop), number="n-1", pack=Decimal(1), price=None)


class TestPacks:
    def test_bought_by_ten_and_used_by_one(self, item: StockItem) -> None:
        set_offer(item=item, supplier=north(item.shop), number="N-10", pack=Decimal(10), price=Decimal("19.99"))
        with pytest.raises(ValidationError, match=r"sold by 10, so 12 cannot be ordered\. Order 10 or 20"):
            ordered(item, 12)
        order = ordered(item, 20)
        line = order.lines.get()
        assert (line.supplier_number, line.cost, line.cost_of_all) == ("N-10", Decimal("1.999"), Decimal("39.98"))
        assert list_data(order)["lines"][0]["packs"] == "2 × 10"

    def test_a_bottle_is_bought_by_the_litre_to_the_cent(self, shop: Shop) -> None:
        part = PartFactory(measure="ml", role="oil")
        oil = StockItemFactory(shop=shop, supplier="North", part=part)
        set_offer(item=oil, supplier=north(shop), number="", pack=Decimal(1000), price=Decimal("14.95"))
        order = ordered(oil, 3000)
        assert order.lines.get().cost_of_all == Decimal("44.85")  # 3000 × the rounded price of a ml would be 45.00
        assert bottles_of(order) == {order.lines.get().pk: Decimal(1000)}
        came(order, good=1000, pack_price="14.95")
        assert told(level_of(oil), still_open(order)) == (1000, 2000)

    @pytest.mark.parametrize("quantity", ["0.5", "2.25"])
    def test_half_a_wiper_is_neither_ordered_nor_received(self, item: StockItem, quantity: str) -> None:
        with pytest.raises(ValidationError, match="counted in pieces"):
            place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(quantity)}, by=None)
        order = ordered(item)
        for what in ("good", "damaged", "missing"):
            with pytest.raises(ValidationError, match="counted in pieces"):
                came(order, note="Bent", meant=False, **{what: quantity})
        assert not StockMovement.objects.exists()


class TestSent:
    def test_sent_and_not_sent_after_all(self, item: StockItem) -> None:
        order = ordered(item)
        mark_sent(order=order, seen_version=1, how="by hand", by=None)
        with pytest.raises(ValidationError, match="sent already"):
            mark_sent(order=order, seen_version=2, how="by hand", by=None)
        mark_not_sent(order=fresh(order), seen_version=2, by=None)
        assert fresh(order).sent_at is None
        assert [step.kind for step in order.steps.all()] == ["sent", "not_sent"]

    def test_days_to_deliver_are_learned_from_when_it_was_sent(self, item: StockItem) -> None:
        supplier, now = north(item.shop), timezone.now()
        Supplier.objects.filter(pk=supplier.pk).update(usual_days=9)
        for place, days in enumerate((2, 5, 4)):
            assert lead_time_of(north(item.shop)) == LeadTime(9, place, learned=False)
            order = ordered(item, 1)
            came(order, good=1)
            PurchaseOrder.objects.filter(pk=order.pk).update(sent_at=now - dt.timedelta(days=days))
        assert lead_time_of(north(item.shop)) == LeadTime(4, 3, learned=True)
        assert ordered(item, 1).expected_on == timezone.localdate() + dt.timedelta(days=4)
        StockItem.objects.filter(pk=item.pk).update(lead_days=30)  # typed in long ago
        assert ordered(item, 1).expected_on == timezone.localdate() + dt.timedelta(days=4)

    @pytest.mark.parametrize("days", [[3, 1, 2], [1, 2, 3, 8], [0, 0, 5], [7, 7, 8, 9, 30]])
    def test_the_median_is_numpys(self, days: list[int]) -> None:
        assert lead_time(days, None).days == int(np.floor(np.median(days) + 0.5))

    def test_who_orders_after_somebody_else_did_is_told(self, item: StockItem) -> None:
        order = ordered(item)
        with pytest.raises(OrderedMeanwhile, match=f"Wiper, test” in order {order.number}"):
            place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(1)}, by=None, seen_order=0)
        assert PurchaseOrder.objects.count() == 1


def terms(order: PurchaseOrder, ordered: str, price: str = "14", day: dt.date | None = None) -> dict[int, LineTerms]:
    return {order.lines.get().pk: LineTerms(Decimal(ordered), Decimal(price), day)}


class TestChanging:
    def test_confirmed_with_another_day_and_price(self, item: StockItem) -> None:
        order, day = ordered(item), timezone.localdate() + dt.timedelta(days=12)
        change_lines(order=order, seen_version=1, terms=terms(order, "10", "15.5", day), confirmed=True, by=None)
        line = order.lines.get()
        assert told(line.cost, line.expected_on, line.ordered) == (Decimal("15.5"), day, 10)
        assert deliveries_of(item.shop)[item.pk][0].expected_on == day  # promises are reckoned with it
        (step,) = order.steps.all()
        assert (step.kind, step.values["price"]) == ("confirmed", ["14.00", "15.50"])

    def test_an_odd_price_is_asked_about_and_taken_when_it_is_meant(self, item: StockItem) -> None:
        order = ordered(item)
        for price in ("0", "1.40", "140"):
            with pytest.raises(DoubtfulPrice):
                change_lines(order=order, seen_version=1, terms=terms(order, "10", price), confirmed=True, by=None)
        pk = order.lines.get().pk
        change_lines(order=order, seen_version=1, terms=terms(order, "10", "140"), confirmed=True, by=None, meant=[pk])
        assert order.lines.get().cost == 140

    def test_cancelled_and_ordered_again(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=4)
        with pytest.raises(LineRefused, match="4 came already"):
            change_lines(order=fresh(order), seen_version=2, terms=terms(order, "3"), confirmed=False, by=None)
        cancel_line(order=fresh(order), seen_version=2, line=order.lines.get(), reason="Too slow", by=None)
        assert told(order.lines.get().ordered, deliveries_of(item.shop)) == (4, {})
        assert fresh(order).closed_at is not None
        with pytest.raises(OrderClosed):
            change_lines(order=fresh(order), seen_version=3, terms=terms(order, "10"), confirmed=False, by=None)
        with pytest.raises(ValidationError, match="All of it came"):
            open_order_again(order=fresh(order), seen_version=3, by=None)

    def test_a_line_nothing_came_of_is_cancelled_whole(self, item: StockItem) -> None:
        order, other = ordered(item), StockItemFactory(shop=item.shop, supplier="North")
        add_line(order=order, seen_version=1, item=other, quantity=Decimal(2), by=None)
        with pytest.raises(ValidationError, match="in this order"):
            add_line(order=fresh(order), seen_version=2, item=other, quantity=Decimal(2), by=None)
        line = OrderLine.objects.get(item=item)
        cancel_line(order=fresh(order), seen_version=2, line=line, reason="", by=None)
        assert fresh(order).closed_at is None
        assert [row["title"] for row in list_data(order)["lines"]] == [other.part.description]

    def test_a_part_of_another_shop_or_supplier_is_not_added(self, item: StockItem) -> None:
        order = ordered(item)
        for other, why in (
            (StockItemFactory(supplier="North"), "not kept here"),
            (StockItemFactory(shop=item.shop, supplier="South"), "does not come from North"),
        ):
            with pytest.raises(ValidationError, match=why):
                add_line(order=fresh(order), seen_version=1, item=other, quantity=Decimal(1), by=None)

    def test_closed_and_opened_again(self, item: StockItem) -> None:
        order = ordered(item)
        close_order(order=order, seen_version=1)
        assert deliveries_of(item.shop) == {}
        open_order_again(order=fresh(order), seen_version=2, by=None)
        assert deliveries_of(item.shop)[item.pk][0].quantity == 10


class TestDeliveries:
    def test_good_damaged_wrong_and_missing(self, item: StockItem) -> None:
        order = ordered(item)
        with pytest.raises(ValidationError, match="say what was damaged"):
            came(order, good=6, damaged=1)
        came(order, good=6, damaged=1, wrong=2, missing=1, pack_price="14.50", note="Lip torn, two of 35 mm")
        assert told(level_of(item), still_open(order)) == (6, 4)
        assert unusable_of(order) == {order.lines.get().pk: 3}
        line = order.lines.get().delivered.get()
        assert told(line.price, line.missing) == (Decimal("14.5"), 1)
        assert stock_is_its_movements(item)

    def test_more_than_ordered_is_asked_and_booked_with_its_reason(self, item: StockItem) -> None:
        order = ordered(item)
        with pytest.raises(MoreThanOrdered, match="12 is more than the 10 still to come"):
            came(order, good=12)
        assert level_of(item) == 0
        came(order, good=12, note="Two for free")
        assert told(level_of(item), still_open(order)) == (12, 0)
        assert fresh(order).closed_at is not None
        assert deliveries_of(item.shop) == {}

    @pytest.mark.parametrize("price", ["0", "140", "1.4"])
    def test_an_absurd_price_is_asked(self, item: StockItem, price: str) -> None:
        order = ordered(item)
        with pytest.raises(DoubtfulPrice):
            came(order, good=1, pack_price=price)
        came(order, good=1, pack_price=price, meant=True)
        assert order.lines.get().delivered.get().price == Decimal(price)

    def test_booked_back_once_with_its_reason(self, item: StockItem) -> None:
        order = ordered(item)
        delivery = came(order, good=10)
        assert fresh(order).closed_at is not None
        with pytest.raises(ValidationError, match="Say why"):
            book_delivery_back(order=fresh(order), seen_version=2, delivery=delivery, why=" ", by=None)
        book_delivery_back(order=fresh(order), seen_version=2, delivery=delivery, why="Other box", by=None)
        assert told(level_of(item), still_open(order), fresh(order).closed_at) == (0, 10, None)
        with pytest.raises(ValidationError, match="booked back already"):
            book_delivery_back(order=fresh(order), seen_version=3, delivery=delivery, why="Again", by=None)
        assert [row.quantity for row in item.movements.all()] == [10, -10]  # nothing was taken away or edited
        assert stock_is_its_movements(item)
        came(order, good=10)
        assert level_of(item) == 10

    def test_what_is_used_is_not_booked_back(self, item: StockItem) -> None:
        order = ordered(item)
        delivery = came(order, good=10)
        write_off(item=item, quantity=Decimal(1), by=None, note="Torn")
        with pytest.raises(NotEnoughInStock), transaction.atomic():
            book_delivery_back(order=fresh(order), seen_version=2, delivery=delivery, why="Slip", by=None)
        assert level_of(item) == 9
        assert Delivery.objects.get().undone_at is None


def back(
    order: PurchaseOrder, quantity: int, what: str = "good", replaced: bool = False, reason: str = "Bent"
) -> SentBack:
    now = fresh(order)
    return send_back(
        order=now, seen_version=now.version, line=order.lines.get(), what=what, quantity=Decimal(quantity),
        reason=reason, replaced=replaced, by=None,
    )  # fmt: skip


class TestGoingBack:
    def test_for_its_money_nobody_owes_any_more(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=10)
        one = back(order, 3)
        assert told(level_of(item), still_open(order)) == (7, 0)
        assert fresh(order).closed_at is not None
        keep_after_all(order=fresh(order), seen_version=fresh(order).version, back=one, by=None)
        assert told(level_of(item), order.lines.get().ordered, still_open(order)) == (10, 10, 0)
        with pytest.raises(ValidationError, match="taken back already"):
            keep_after_all(order=fresh(order), seen_version=fresh(order).version, back=one, by=None)
        assert stock_is_its_movements(item)

    def test_for_others_they_are_to_come_again(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=10)
        back(order, 3, replaced=True)
        assert told(level_of(item), still_open(order), fresh(order).closed_at) == (7, 3, None)
        came(order, good=3)
        assert told(level_of(item), still_open(order)) == (10, 0)

    def test_what_was_never_in_the_stores_leaves_them_as_they_are(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=8, damaged=2, note="Dented")
        with pytest.raises(ValidationError, match="2 can go back, not 3"):
            back(order, 3, "unusable")
        one = back(order, 2, "unusable")
        assert told(level_of(item), still_open(order), unusable_of(order)) == (8, 0, {})
        keep_after_all(order=fresh(order), seen_version=fresh(order).version, back=one, by=None)
        assert told(still_open(order), unusable_of(order), fresh(order).closed_at) == (
            2,
            {order.lines.get().pk: 2},
            None,
        )

    def test_what_came_beyond_the_order_goes_back_and_nothing_is_owed(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=12, note="Two more")
        back(order, 2)
        assert told(level_of(item), order.lines.get().ordered, still_open(order)) == (10, 10, 0)

    def test_more_than_came_no_reason_or_what_is_used_is_refused(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=4)
        with pytest.raises(ValidationError, match="4 can go back, not 5"):
            back(order, 5)
        with pytest.raises(ValidationError, match="Say why"):
            back(order, 1, reason=" ")
        write_off(item=item, quantity=Decimal(2), by=None, note="Lost")
        with pytest.raises(NotEnoughInStock), transaction.atomic():
            back(order, 3)
        assert not SentBack.objects.exists()

    def test_a_delivery_some_of_which_went_back_is_not_booked_back(self, item: StockItem) -> None:
        order = ordered(item)
        delivery = came(order, good=10)
        back(order, 1)
        with pytest.raises(ValidationError, match="went back to the supplier"):
            book_delivery_back(
                order=fresh(order), seen_version=fresh(order).version, delivery=delivery, why="Slip", by=None
            )

    def test_a_credit_and_its_counter_entry(self, item: StockItem) -> None:
        order = ordered(item)
        came(order, good=2, pack_price="14")
        with pytest.raises(ValidationError, match=r"28\.00"):
            note_credit(order=fresh(order), seen_version=2, amount=Decimal("28.01"), note="CN 7", by=None)
        credit = note_credit(order=fresh(order), seen_version=2, amount=Decimal(14), note="CN 7", by=None)
        assert credited(order) == 14
        take_credit_back(order=fresh(order), seen_version=3, credit=credit, by=None)
        assert told(credited(order), SupplierCredit.objects.count()) == (0, 2)
        with pytest.raises(ValidationError, match="taken back already"):
            take_credit_back(order=fresh(order), seen_version=4, credit=credit, by=None)


class TestConstraints:
    def test_the_database_holds_them_too(self, item: StockItem) -> None:
        order = ordered(item)
        delivery, supplier = came(order, good=1), north(item.shop)
        for wrong in (
            lambda: Supplier.objects.create(shop=item.shop, name="North"),
            lambda: Supplier.objects.create(shop=item.shop, name=""),
            lambda: item.offers.create(supplier=supplier, pack=0),
            lambda: item.offers.create(supplier=supplier, price=0),
            lambda: Delivery.objects.create(order=order, sent_id=delivery.sent_id, at=timezone.now()),
            lambda: Delivery.objects.filter(pk=delivery.pk).update(undone_at=timezone.now()),
            lambda: delivery.lines.update(good=0),
            lambda: delivery.lines.update(good=-1),
            lambda: OrderLine.objects.update(ordered=-1),
            lambda: OrderLine.objects.update(pack=0),
            lambda: SupplierCredit.objects.create(order=order, amount=-1, note="-", at=timezone.now()),
            lambda: item.movements.update(kind="sent_back"),
            lambda: item.movements.update(kind="undone", order_line=None),
        ):
            with pytest.raises(IntegrityError), transaction.atomic():
                wrong()


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_of_two_at_one_delivery_one_books_and_the_same_press_is_answered_alike(self) -> None:
        item = StockItemFactory(supplier="North")
        order, mark = ordered(item), uuid.uuid4()
        line = order.lines.get().pk

        def press(number: int) -> str:
            mine = PurchaseOrder.objects.get(pk=order.pk)
            try:
                one = book_delivery(
                    order=mine, seen_version=1, came={line: CameIn(good=Decimal(5))}, by=None,
                    sent_id=mark if number < 3 else uuid.uuid4(),
                )  # fmt: skip
            except StaleVersion:
                return "told"
            return str(one.pk)

        answers = at_once(press)
        booked = Delivery.objects.get()
        assert set(answers) <= {"told", str(booked.pk)}
        assert level_of(item) == 5

    def test_one_delivery_is_booked_back_once(self) -> None:
        item = StockItemFactory(supplier="North")
        order = ordered(item)
        delivery = came(order, good=5)

        def press(_: int) -> str:
            try:
                book_delivery_back(
                    order=PurchaseOrder.objects.get(pk=order.pk), seen_version=2, delivery=delivery, why="Slip", by=None
                )
            except StaleVersion:
                return "told"
            return "booked back"

        assert sorted(at_once(press)) == ["booked back"] + ["told"] * 5
        assert level_of(item) == 0

    def test_of_many_who_order_the_same_shortage_one_does(self) -> None:
        item = StockItemFactory(supplier="North")

        def press(_: int) -> str:
            try:
                place_order(
                    shop=Shop.objects.get(pk=item.shop_id), supplier="North", quantities={item.pk: Decimal(1)}, by=None,
                    seen_order=0,
                )  # fmt: skip
            except OrderedMeanwhile:
                return "told"
            return "ordered"

        assert sorted(at_once(press)) == ["ordered"] + ["told"] * 5
