"""Movements in and out of the stores: a level is their sum and does not go below nothing."""

from __future__ import annotations

import threading
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.factories import StockItemFactory, StockMovementFactory
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.moving import NotEnoughInStock, count, level_of, levels_of, receive, with_levels, write_off


@pytest.mark.django_db
class TestMovements:
    def test_what_is_received_is_in_the_level(self) -> None:
        item = StockItemFactory()
        receive(item=item, quantity=Decimal(4), by=None)
        receive(item=item, quantity=Decimal("2.5"), by=None)
        assert level_of(item) == Decimal("6.5")
        annotated: Any = with_levels(StockItem.objects.all()).get()
        assert annotated.level == Decimal("6.5")
        assert levels_of([item.pk]) == {item.pk: Decimal("6.5")}

    def test_an_item_without_movements_has_none(self) -> None:
        StockItemFactory()
        annotated: Any = with_levels(StockItem.objects.all()).get()
        assert annotated.level == 0

    def test_a_count_becomes_the_level_and_keeps_the_difference(self) -> None:
        item = StockItemFactory()
        receive(item=item, quantity=Decimal(10), by=None)
        movement = count(item=item, counted=Decimal(7), by=None, note="Shelf A3")
        assert movement is not None
        assert (movement.quantity, level_of(item)) == (Decimal(-3), Decimal(7))

    def test_a_count_that_agrees_moves_nothing(self) -> None:
        item = StockItemFactory()
        receive(item=item, quantity=Decimal(2), by=None)
        assert count(item=item, counted=Decimal(2), by=None) is None
        assert StockMovement.objects.count() == 1

    def test_more_than_there_is_cannot_be_written_off(self) -> None:
        item = StockItemFactory()
        receive(item=item, quantity=Decimal(1), by=None)
        with pytest.raises(NotEnoughInStock, match=r"show 1 of .* so 2 cannot go out\. If there are more"):
            write_off(item=item, quantity=Decimal(2), by=None, note="Torn")
        assert level_of(item) == 1

    def test_a_write_off_says_why(self) -> None:
        item = StockMovementFactory().item
        with pytest.raises(ValidationError, match="Say why"):
            write_off(item=item, quantity=Decimal(1), by=None, note=" ")

    @pytest.mark.parametrize("quantity", [0, -1])
    def test_nothing_or_less_is_not_received(self, quantity: int) -> None:
        with pytest.raises(ValidationError, match="above zero"):
            receive(item=StockItemFactory(), quantity=Decimal(quantity), by=None)

    def test_a_count_below_nothing_is_refused(self) -> None:
        with pytest.raises(ValidationError, match="below nothing"):
            count(item=StockItemFactory(), counted=Decimal(-1), by=None)


AMOUNT = st.decimals(min_value="0.01", max_value="500", places=2)
ENTRY = st.tuples(st.sampled_from(["receive", "count", "write_off"]), AMOUNT)


class TestBalances(TestCase):
    @settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(ENTRY, max_size=12))
    def test_the_level_is_what_a_ledger_says_and_never_below_nothing(self, entries: list[tuple[str, Decimal]]) -> None:
        item, ledger = StockItemFactory(), Decimal(0)
        for kind, amount in entries:
            if kind == "receive":
                receive(item=item, quantity=amount, by=None)
                ledger += amount
            elif kind == "count":
                count(item=item, counted=amount, by=None)
                ledger = amount
            elif amount <= ledger:
                write_off(item=item, quantity=amount, by=None, note="Torn")
                ledger -= amount
            else:
                with pytest.raises(NotEnoughInStock):
                    write_off(item=item, quantity=amount, by=None, note="Torn")
            assert level_of(item) == ledger >= 0


@pytest.mark.django_db(transaction=True)
def test_the_last_one_is_taken_once_however_many_reach_for_it() -> None:
    item = StockItemFactory()
    receive(item=item, quantity=Decimal(1), by=None)
    together, results = threading.Barrier(5), []

    def reach() -> None:
        try:
            together.wait(timeout=20)
            write_off(item=item, quantity=Decimal(1), by=None, note="Torn")
            results.append("taken")
        except NotEnoughInStock:
            results.append("told")
        finally:
            connection.close()

    threads = [threading.Thread(target=reach) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert sorted(results) == ["taken", "told", "told", "told", "told"]
    assert level_of(item) == 0
