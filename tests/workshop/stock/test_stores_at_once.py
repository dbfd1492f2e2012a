"""Two mechanics at one shelf: real threads, each with its own connection to the configured database."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import PartLineFactory, StockMovementFactory, TicketFactory, UserFactory
from workshop.kept.triggers import what_differs
from workshop.models import FinalCharges, StockItem, StockMovement, Ticket
from workshop.stock.batches import batch_named, level_in
from workshop.stock.keeping import change_item
from workshop.stock.moving import NotEnoughInStock, count, level_of, receive, write_off
from workshop.tickets.models import PartLine
from workshop.tickets.settings_record import Settings
from workshop.web.versions import StaleVersion, take_version
from workshop.work.hand_back import hand_back
from workshop.work.part_lines import PartLineRefused, QuantityChanged, set_quantity, take_up_again, use_part_line
from workshop.work.unresolved import PartsUnresolved

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def item() -> StockItem:
    """Two wipers are there."""
    return StockMovementFactory(item__price=Decimal("11.50"), quantity=2).item


def line_of(item: StockItem, **ticket: object) -> PartLine:
    return PartLineFactory(
        ticket=TicketFactory(shop=item.shop, **ticket), part=item.part, quantity=2, unit_price=item.price
    )


def fresh(line: PartLine) -> PartLine:
    return PartLine.objects.select_related("part", "ticket__shop").get(pk=line.pk)


def runs_never_below_nothing(item: StockItem) -> bool:
    there = Decimal(0)
    for moved in StockMovement.objects.filter(item=item).order_by("pk").values_list("quantity", flat=True):
        there += moved
        if there < 0:
            return False
    return there == level_of(item)


def test_of_many_tickets_that_want_the_last_wipers_one_gets_them(item: StockItem) -> None:
    lines = [line_of(item) for _ in range(6)]

    def reach(number: int) -> str:
        try:
            use_part_line(line=fresh(lines[number]), by=None, taking_from=None)
        except NotEnoughInStock:
            return "told"
        return "used"

    assert sorted(at_once(reach)) == ["told"] * 5 + ["used"]
    assert PartLine.objects.filter(status="used").count() == 1
    assert (level_of(item), runs_never_below_nothing(item)) == (Decimal(0), True)


def test_one_line_pressed_by_many_is_used_once(item: StockItem) -> None:
    line = line_of(item)

    def press(_: int) -> str:
        try:
            use_part_line(line=fresh(line), by=None)
        except PartLineRefused:
            return "told"
        return "used"

    assert sorted(at_once(press)) == ["told"] * 5 + ["used"]
    assert level_of(item) == 0


def test_whatever_is_moved_at_once_the_level_is_the_sum_and_never_below_nothing(item: StockItem) -> None:
    lines = [line_of(item) for _ in range(2)]
    work = (
        lambda: use_part_line(line=fresh(lines[0]), by=None, taking_from=None),
        lambda: (
            use_part_line(line=fresh(lines[1]), by=None, taking_from=None),
            take_up_again(line=fresh(lines[1]), by=None),
        ),
        lambda: write_off(item=item, quantity=Decimal("1.5"), by=None, note="Torn"),
        lambda: receive(item=item, quantity=Decimal("0.75"), by=None),
        lambda: count(item=item, counted=Decimal(3), by=None),
        lambda: write_off(item=item, quantity=Decimal(1), by=None, note="Torn"),
    )

    def move(number: int) -> str:
        try:
            work[number]()
        except NotEnoughInStock:
            return "told"
        return "moved"

    assert "moved" in at_once(move)
    assert runs_never_below_nothing(item)


def test_of_many_who_change_a_quantity_one_does(item: StockItem) -> None:
    line = line_of(item)

    def change(number: int) -> str:
        try:
            set_quantity(line=fresh(line), quantity=Decimal(number + 3), seen=Decimal(2), by=None)
        except QuantityChanged:
            return "told"
        return "changed"

    assert sorted(at_once(change)) == ["changed"] + ["told"] * 5


def test_of_many_who_change_the_terms_one_does(item: StockItem) -> None:
    def change(number: int) -> str:
        try:
            with transaction.atomic():
                mine = take_version(StockItem.objects.get(pk=item.pk), 1)
                change_item(
                    item=mine, price=Decimal(number + 1), cost=None, shelf="", supplier=f"S{number}", lead_days=number,
                    reorder_level=Decimal(0), by=None,
                )  # fmt: skip
        except StaleVersion:
            return "told"
        return "changed"

    assert sorted(at_once(change)) == ["changed"] + ["told"] * 5
    stored = StockItem.objects.get()
    assert (stored.version, stored.supplier) == (2, f"S{stored.lead_days}")
    assert stored.price == (stored.lead_days or 0) + 1


def test_what_is_used_while_it_is_handed_back_is_charged_or_refused() -> None:
    item = StockMovementFactory(item__price=Decimal("11.50"), quantity=10).item
    line = line_of(item, state="ready")
    ticket, clerk = line.ticket, UserFactory(shop=item.shop)

    def at_the_end(number: int) -> str:
        try:
            if number:
                use_part_line(line=fresh(line), by=None)
            else:
                mine = Ticket.objects.select_related("shop", "customer", "unit").get(pk=ticket.pk)
                hand_back(ticket=mine, by=clerk, seen_version=mine.version, settings=Settings())
        except (ValidationError, PartsUnresolved):
            return "refused"
        return "done"

    results = at_once(at_the_end, people=2)
    back = Ticket.objects.get().state == "handed_back"
    assert PartLine.objects.get().status == "used"  # the hand-back waited for it, or was refused until it is said
    assert results.count("done") == (2 if back else 1)
    assert [final.net for final in FinalCharges.objects.all()] == ([Decimal("23.00")] if back else [])
    assert level_of(item) == 8


def test_of_many_who_reach_for_a_batch_each_takes_what_is_left_of_it(item: StockItem) -> None:
    soon, late = (
        batch_named(item=item, number=number, use_by=timezone.localdate() + dt.timedelta(days=days), by=None)
        for number, days in (("soon", 9), ("late", 90))
    )
    for batch in (soon, late):
        receive(item=item, quantity=Decimal(3), by=None, batch=batch)
    lines = [line_of(item) for _ in range(6)]

    def reach(number: int) -> str:
        try:
            use_part_line(line=fresh(lines[number]), by=None, taking_from=None)
        except NotEnoughInStock:
            return "told"
        return "used"

    # 2 without a batch and 3 of each: four take 2 each, and the last of them what has no batch.
    assert sorted(at_once(reach)) == ["told"] * 2 + ["used"] * 4
    assert (level_in(soon), level_in(late), level_of(item)) == (Decimal(0), Decimal(0), Decimal(0))
    assert what_differs() == []
