"""Orders from before suppliers and deliveries were records: carried over whole, with nothing made up."""

from __future__ import annotations

import datetime as dt
import importlib
import uuid
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import connection

from tests.factories import StockItemFactory, UserFactory
from workshop.models import Delivery, DeliveryLine, OrderLine, PurchaseOrder, StockItem, StockMovement, Supplier
from workshop.stock.order_standing import open_quantities
from workshop.stock.receiving import book_delivery_back

pytestmark = pytest.mark.django_db
MOVE = importlib.import_module("workshop.migrations.0077_old_orders_as_deliveries")
AT = dt.datetime(2026, 3, 2, 9, 7, 11, tzinfo=dt.UTC)


def an_old_order(item: StockItem, number: int = 1) -> OrderLine:
    order = PurchaseOrder.objects.create(shop=item.shop, number=number, supplier="North", ordered_at=AT)
    return OrderLine.objects.create(order=order, item=item, ordered=Decimal(10), cost=Decimal(3))


def moved(line: OrderLine, quantity: int, at: dt.datetime, **more: object) -> StockMovement:
    return StockMovement.objects.create(
        item=line.item, kind="received", quantity=quantity, order_line=line, at=at, **more
    )


def carried_over() -> None:
    Supplier.objects.all().delete()
    editor = SimpleNamespace(connection=connection)  # all that the two ask of it
    MOVE.suppliers(apps, editor)
    MOVE.deliveries(apps, editor)


def test_each_name_becomes_a_supplier_of_its_shop() -> None:
    for item in (StockItemFactory(supplier="North"), StockItemFactory(supplier="North"), StockItemFactory(supplier="")):
        an_old_order(item)
    carried_over()
    assert Supplier.objects.filter(name="North").count() == 3
    assert Supplier.objects.count() == 3


def test_what_one_person_booked_at_once_is_one_delivery_of_no_known_price() -> None:
    first, mark, by = StockItemFactory(supplier="North"), uuid.uuid4(), UserFactory()
    line = an_old_order(first)
    other = OrderLine.objects.create(
        order=line.order, item=StockItemFactory(shop=first.shop, supplier="North"), ordered=Decimal(4)
    )
    moved(line, 2, AT, by=by)
    moved(other, 1, AT + dt.timedelta(seconds=2), by=by)  # the same minute and person, without a mark
    moved(line, 3, AT + dt.timedelta(days=2), sent_id=mark)
    moved(other, 3, AT + dt.timedelta(days=2), sent_id=mark)
    StockMovement.objects.create(item=first, kind="received", quantity=9, at=AT)  # of no order
    carried_over()
    told: list[object] = [
        (one.by, one.at, sorted(one.lines.values_list("line", "good"))) for one in Delivery.objects.order_by("at")
    ]
    assert told == [
        (by, AT, [(line.pk, 2), (other.pk, 1)]),
        (None, AT + dt.timedelta(days=2), [(line.pk, 3), (other.pk, 3)]),
    ]
    assert set(DeliveryLine.objects.values_list("price", "pack_price")) == {(None, None)}
    assert PurchaseOrder.objects.get().sent_at == AT
    assert open_quantities(line.order) == {line.pk: 5, other.pk: 0}


def test_a_delivery_carried_over_can_be_booked_back() -> None:
    line = an_old_order(StockItemFactory(supplier="North"))
    moved(line, 10, AT)
    carried_over()
    order = PurchaseOrder.objects.get()
    book_delivery_back(order=order, seen_version=1, delivery=Delivery.objects.get(), why="Slip", by=None)
    assert open_quantities(order) == {line.pk: 10}
