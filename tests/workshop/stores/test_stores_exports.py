"""Movements, orders and kits go out as CSV: the sums agree, and no cell is run as a formula."""

from __future__ import annotations

import csv
import io
import tracemalloc
from collections.abc import Callable, Iterable
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from specs.models import Part
from tests.factories import (
    KitLineFactory,
    ShopFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
    UserFactory,
)
from tests.known import known
from workshop.models import OrderLine, PurchaseOrder, Shop, StockItem, StockMovement, User
from workshop.stock.exporting import kits_csv, movements_csv, orders_csv
from workshop.stock.moving import level_of, receive, write_off
from workshop.stock.ordering import place_order, receive_goods
from workshop.stock.part_files import export_parts
from workshop.work.adding_parts import add_by_hand
from workshop.work.part_lines import use_part_line

# On PostgreSQL a shop's items are asked for first (workshop/stock/shops_movements.py).
NAMES_ITEMS = int(connection.vendor == "postgresql")
pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True)


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def item(owner: User) -> StockItem:
    return StockItemFactory(shop=owner.shop, supplier="North", part__description="=1+1", part__measure="ml")


def rows(pieces: Iterable[bytes]) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(b"".join(pieces).decode("utf-8-sig"))))


def test_movements_run_up_to_the_level(owner: User, item: StockItem) -> None:
    order = place_order(shop=known(owner.shop), supplier="North", quantities={item.pk: Decimal(6)}, by=owner)
    receive_goods(order=order, seen_version=1, quantities={order.lines.get().pk: Decimal("4.5")}, by=owner)
    ticket = TicketFactory(shop=owner.shop)
    use_part_line(line=add_by_hand(ticket=ticket, part=item.part, quantity=Decimal(2), by=owner), by=owner)
    write_off(item=item, quantity=Decimal("0.5"), by=owner, note="-torn")
    StockMovementFactory()  # another shop's
    out = rows(movements_csv(known(owner.shop)))
    assert [(row["quantity"], row["then_there"]) for row in out] == [("4.5", "4.5"), ("-2", "2.5"), ("-0.5", "2")]
    assert (out[0]["order"], out[1]["ticket"], out[2]["note"]) == ("1", str(ticket.number), "'-torn")
    assert {row["description"] for row in out} == {"'=1+1"}
    assert Decimal(out[-1]["then_there"]) == level_of(item)
    (line,) = rows(orders_csv(known(owner.shop)))
    assert (line["ordered"], line["came"], line["cost_each"], line["closed_on"]) == ("6", "4.5", "14.00", "")


def test_who_moved_it_is_no_formula_either(owner: User, item: StockItem) -> None:
    """A name is words, whoever chose it; what goes out is below zero and stays a number."""
    User.objects.filter(pk=owner.pk).update(first_name="=HYPERLINK(1)", last_name="")
    owner.refresh_from_db()
    receive(item=item, quantity=Decimal(5), by=owner, note="x;=1+1")
    write_off(item=item, quantity=Decimal(2), by=owner, note="-1+1")
    out = rows(movements_csv(known(owner.shop)))
    assert [row["by"] for row in out] == ["'=HYPERLINK(1)"] * 2
    assert [row["note"] for row in out] == ["x;'=1+1", "'-1+1"]
    assert [row["quantity"] for row in out] == ["5", "-2"]


def test_kits_name_their_parts(item: StockItem) -> None:
    line = KitLineFactory(part=item.part, quantity=2)
    (row,) = rows(kits_csv())
    assert (row["model"], row["number"], row["quantity"]) == (line.kit.model.name, item.part.number, "2")


def test_rows_take_no_query_each(
    owner: User, item: StockItem, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(5):
        receive(item=item, quantity=Decimal(1), by=owner)
        place_order(shop=known(owner.shop), supplier="North", quantities={item.pk: Decimal(1)}, by=owner)
    for export, queries in ((movements_csv, 1 + NAMES_ITEMS), (orders_csv, 1)):
        with django_assert_num_queries(queries):
            assert len(rows(export(known(owner.shop)))) == 5


@pytest.mark.parametrize("export", [movements_csv, orders_csv, export_parts])
def test_four_times_the_rows_take_no_more_memory(
    monkeypatch: pytest.MonkeyPatch, shop: Shop, export: Callable[[Shop], Iterable[bytes]]
) -> None:
    for room in ("stock.exporting", "stock.part_files"):
        monkeypatch.setattr(f"workshop.{room}.AT_ONCE", 50)
    monkeypatch.setattr("workshop.web.large_csv.PIECE_CHARACTERS", 1 << 10)
    monkeypatch.setattr("workshop.stock.shops_movements._NAMED", 100)  # both are large shops
    peaks = []
    for items in (150, 600):
        many_of_each(shop, items)
        tracemalloc.start()
        try:
            length = sum(len(piece) for piece in export(shop))
            peaks.append(tracemalloc.get_traced_memory()[1])
        finally:
            tracemalloc.stop()
        assert length > items * 20
    assert peaks[1] < peaks[0] * 1.5


def many_of_each(shop: Shop, until: int) -> None:
    """So many parts with a movement and a line of one order each."""
    there = StockItem.objects.filter(shop=shop).count()
    numbers = range(there, until)
    parts = Part.objects.bulk_create([Part(number=f"MANY-{n}", description=f"Seal {n}") for n in numbers])
    items = StockItem.objects.bulk_create([StockItem(shop=shop, part=part, price=1) for part in parts])
    order = PurchaseOrder.objects.create(shop=shop, number=until, supplier="North", ordered_at=timezone.now())
    OrderLine.objects.bulk_create([OrderLine(order=order, item=item, ordered=1) for item in items])
    StockMovement.objects.bulk_create(
        [StockMovement(item=item, kind="received", quantity=1, at=timezone.now()) for item in items]
    )


@pytest.mark.parametrize("name", ["parts", "movements", "orders", "kits"])
def test_everything_is_saved_from_one_page(client: Client, owner: User, name: str) -> None:
    client.force_login(owner)
    assert reverse(f"stores:export_{name}") in client.get(reverse("stores:files")).text
    answer = client.get(reverse(f"stores:export_{name}"))
    assert answer["Content-Type"].startswith("text/csv")
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer.streaming
    assert answer.getvalue().startswith(b"\xef\xbb\xbf")
