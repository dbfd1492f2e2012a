"""Sharing parts out by promise, and how much to order; against a piece-by-piece deal."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.stock.arrivals import on_its_way, to_be_ordered
from workshop.stock.sharing import ExpectedDelivery, Want, share_out, suggested_order

DAY = dt.date(2026, 11, 30)
NEXT = dt.date(2026, 12, 1)


def want(number: int, quantity: int, days: int = 0) -> Want:
    return Want(number, number, DAY + dt.timedelta(days=days), Decimal(quantity))


def test_the_earliest_promise_gets_what_is_there() -> None:
    late, soon = want(1, 2, days=5), want(2, 2, days=1)
    first, second = share_out(Decimal(3), [], [late, soon])
    assert (first.want, first.is_here, first.missing) == (soon, True, Decimal(0))
    assert (second.want, second.there, second.missing) == (late, Decimal(1), Decimal(1))


def test_what_is_on_order_is_coming_and_not_missing() -> None:
    (share,) = share_out(Decimal(0), [ExpectedDelivery(Decimal(5))], [want(1, 2)])
    assert (share.is_here, share.coming, share.missing) == (False, Decimal(2), Decimal(0))


def test_a_level_below_nothing_gives_nothing() -> None:
    (share,) = share_out(Decimal(-1), [ExpectedDelivery(Decimal(-1))], [want(1, 2)])
    assert (share.missing, share.last_delivery) == (Decimal(2), None)


def test_the_earliest_delivery_goes_to_the_earliest_promise() -> None:
    unknown, tuesday, monday = (
        ExpectedDelivery(Decimal(2), day, number) for number, day in enumerate((None, NEXT, DAY))
    )
    shares = share_out(
        Decimal(0), [unknown, tuesday, monday], [want(1, 1), want(2, 2, 1), want(3, 2, 2), want(4, 1, 3)]
    )
    assert [share.last_delivery for share in shares] == [monday, tuesday, unknown, unknown]
    assert not any(share.missing for share in shares)


class TestArrivals:
    def test_with_its_order_on_the_day_that_is_expected(self) -> None:
        arrival = on_its_way("Wiper", ExpectedDelivery(Decimal(2), NEXT, 7), 9, DAY, 10)
        assert (arrival.day, arrival.reason) == (NEXT, "Wiper comes with order 7, expected Tue 1 Dec")

    def test_an_overdue_order_is_reckoned_with_for_tomorrow_and_said_to_be_overdue(self) -> None:
        arrival = on_its_way("Wiper", ExpectedDelivery(Decimal(2), DAY - dt.timedelta(days=3), 7), 9, DAY, 10)
        assert (arrival.day, arrival.reason) == (NEXT, "Wiper is overdue with order 7, expected Fri 27 Nov")

    @pytest.mark.parametrize(("lead_days", "days"), [(4, 4), (None, 10)])
    def test_an_order_expected_on_no_day_takes_the_lead_time(self, lead_days: int | None, days: int) -> None:
        arrival = on_its_way("Wiper", ExpectedDelivery(Decimal(2), None, 7), lead_days, DAY, 10)
        assert arrival.day == DAY + dt.timedelta(days=days)
        assert arrival.reason == "Wiper is in order 7, and nobody knows when that comes"

    def test_what_has_to_be_ordered_first(self) -> None:
        assert to_be_ordered("Wiper", 1, DAY, 10).reason == "Wiper takes one day to come"
        unknown = to_be_ordered("Wiper", None, DAY, 10)
        assert (unknown.day, unknown.reason) == (
            DAY + dt.timedelta(days=10), "Wiper takes 10 days to come, as far as is known",
        )  # fmt: skip


wants = st.lists(st.tuples(st.integers(1, 5), st.integers(0, 4)), max_size=6)


@given(st.integers(0, 12), st.integers(0, 8), wants)
def test_dealing_piece_by_piece_comes_to_the_same(level: int, on_order: int, listed: list[tuple[int, int]]) -> None:
    asked = [want(number, quantity, days) for number, (quantity, days) in enumerate(listed)]
    pieces = ["there"] * level + ["coming"] * on_order
    dealt = {}
    for one in sorted(asked, key=lambda one: (one.promised_on, one.number)):
        mine = [pieces.pop(0) for _ in range(int(one.quantity)) if pieces]
        dealt[one.number] = tuple(
            map(Decimal, (mine.count("there"), mine.count("coming"), int(one.quantity) - len(mine)))
        )
    shares = share_out(Decimal(level), [ExpectedDelivery(Decimal(1)) for _ in range(on_order)], asked)
    assert {share.want.number: (share.there, share.coming, share.missing) for share in shares} == dealt


@pytest.mark.parametrize(
    ("level", "on_order", "wanted", "mark", "order"),
    [(5, 0, 2, 0, 0), (0, 0, 2, 0, 2), (0, 2, 2, 0, 0), (5, 0, 2, 2, 0), (4, 0, 2, 2, 2), (0, 0, 3, 4, 11)],
)
def test_orders_cover_the_tickets_and_fill_up_to_twice_the_mark(
    level: int, on_order: int, wanted: int, mark: int, order: int
) -> None:
    assert suggested_order(*(Decimal(number) for number in (level, on_order, wanted, mark))) == order
