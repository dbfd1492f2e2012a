"""What is to be ordered fills itself, firm shortages first, and keeps what somebody made of it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from pytest_django import DjangoAssertNumQueries

from specs.stand_ins import set_stand_in
from tests.factories import PartFactory, PartLineFactory, ShopFactory, StockItemFactory, StockMovementFactory
from tests.factories import TicketFactory as MakeTicket
from workshop.models import BasketLine, Shop, StockItem, Supplier
from workshop.stock.basket import BasketRow, ByHand, basket_of, bring_back, in_packs, keep_by_hand
from workshop.stock.ordering import place_order
from workshop.stock.suppliers import set_offer

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def told(*values: object) -> tuple[object, ...]:
    """Values side by side, whatever kind of number each is."""
    return values


def at_its_mark(shop: Shop, number: str) -> StockItem:
    return StockItemFactory(
        shop=shop, supplier="North", reorder_level=Decimal(2), part=PartFactory(number=number, description=number)
    )


def lacking(shop: Shop, number: str, quantity: int = 3, supplier: str = "North") -> StockItem:
    item = StockItemFactory(
        shop=shop, supplier=supplier, reorder_level=Decimal(0), part=PartFactory(number=number, description=number)
    )
    PartLineFactory(ticket=MakeTicket(shop=shop), part=item.part, quantity=quantity)
    return item


def rows(shop: Shop, supplier: str = "North") -> list[BasketRow]:
    return list(dict(basket_of(shop).by_supplier).get(supplier, []))


def test_firm_shortages_come_first_and_suppliers_apart(shop: Shop) -> None:
    at_its_mark(shop, "A-1")
    lacking(shop, "Z-9")
    lacking(shop, "M-5", supplier="South")
    assert [row.standing.item.part.number for row in rows(shop)] == ["Z-9", "A-1"]
    assert [name for name, _ in basket_of(shop).by_supplier] == ["North", "South"]


def test_it_is_filled_in_whole_packs_of_the_supplier(shop: Shop) -> None:
    item = lacking(shop, "Z-9", quantity=12)
    set_offer(item=item, supplier=Supplier.objects.get(), number="", pack=Decimal(10), price=None)
    (row,) = rows(shop)
    assert told(row.suggested, row.quantity) == (20, 20)
    assert in_packs(Decimal(20), Decimal(10)) == 20


def test_what_was_changed_by_hand_stays_until_it_is_ordered(shop: Shop) -> None:
    item = lacking(shop, "Z-9")
    south = Supplier.objects.create(shop=shop, name="South")
    set_offer(item=item, supplier=south, number="S-1", pack=Decimal(1), price=Decimal(9))
    assert keep_by_hand(shop=shop, rows={item.pk: ByHand(Decimal(5), "South", left_out=False)}, by=None) == 1
    (row,) = rows(shop, "South")
    assert told(row.quantity, row.offer and row.offer.number, rows(shop)) == (5, "S-1", [])
    order = place_order(shop=shop, supplier="South", quantities={item.pk: Decimal(5)}, by=None)
    assert order.lines.get().cost == 9
    assert not BasketLine.objects.exists()


def test_left_out_and_brought_back(shop: Shop) -> None:
    item = lacking(shop, "Z-9")
    keep_by_hand(shop=shop, rows={item.pk: ByHand(Decimal(3), "", left_out=True)}, by=None)
    assert (rows(shop), [row.standing.item for row in basket_of(shop).left_out]) == ([], [item])
    bring_back(item=item)
    assert [row.quantity for row in rows(shop)] == [3]


def test_what_is_as_suggested_is_not_kept(shop: Shop) -> None:
    item = lacking(shop, "Z-9")
    assert keep_by_hand(shop=shop, rows={item.pk: ByHand(Decimal(3), "North", left_out=False)}, by=None) == 0
    assert not BasketLine.objects.exists()


@pytest.mark.parametrize(("quantity", "supplier", "why"), [("2.5", "", "pieces"), ("2", "Nobody", "does not come")])
def test_what_cannot_be_is_refused(shop: Shop, quantity: str, supplier: str, why: str) -> None:
    item = lacking(shop, "Z-9")
    with pytest.raises(ValidationError, match=why):
        keep_by_hand(shop=shop, rows={item.pk: ByHand(Decimal(quantity), supplier, left_out=False)}, by=None)


def test_what_took_the_place_of_a_part_is_ordered_for_it_once(shop: Shop) -> None:
    old, new = lacking(shop, "OLD-1"), at_its_mark(shop, "NEW-1")
    StockMovementFactory(item=new, quantity=10)
    assert [row.standing.item.part.number for row in rows(shop)] == ["OLD-1"]
    set_stand_in(part=old.part, other=new.part, kind="superseded", reason="No longer made")
    assert rows(shop) == []  # the ten that are there do for the three that lack
    PartLineFactory(ticket=MakeTicket(shop=shop), part=new.part, quantity=9)
    (row,) = rows(shop)
    assert (row.standing.item, row.is_firm, [one.item for one in row.stands_for]) == (new, True, [old])
    place_order(shop=shop, supplier="North", quantities={new.pk: row.suggested}, by=None)
    assert rows(shop) == []


def test_queries_do_not_grow(shop: Shop, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for number in range(12):
        item = lacking(shop, f"Z-{number}")
        keep_by_hand(shop=shop, rows={item.pk: ByHand(Decimal(5), "", left_out=bool(number % 2))}, by=None)
    with django_assert_num_queries(9):
        basket_of(shop)
