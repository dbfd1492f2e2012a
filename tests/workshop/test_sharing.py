"""Sharing parts out by promise, and how much to order; against a piece-by-piece deal."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.stores.sharing import Want, share_out, suggested_order

DAY = dt.date(2026, 11, 30)


def want(number: int, quantity: int, days: int = 0) -> Want:
    return Want(number, number, DAY + dt.timedelta(days=days), Decimal(quantity))


def test_the_earliest_promise_gets_what_is_there() -> None:
    late, soon = want(1, 2, days=5), want(2, 2, days=1)
    first, second = share_out(Decimal(3), Decimal(0), [late, soon])
    assert (first.want, first.is_here, first.missing) == (soon, True, 0)
    assert (second.want, second.there, second.missing) == (late, 1, 1)


def test_what_is_on_order_is_coming_and_not_missing() -> None:
    (share,) = share_out(Decimal(0), Decimal(5), [want(1, 2)])
    assert (share.is_here, share.coming, share.missing) == (False, 2, 0)


def test_a_level_below_nothing_gives_nothing() -> None:
    (share,) = share_out(Decimal(-1), Decimal(-1), [want(1, 2)])
    assert share.missing == 2


wants = st.lists(st.tuples(st.integers(1, 5), st.integers(0, 4)), max_size=6)


@given(st.integers(0, 12), st.integers(0, 8), wants)
def test_dealing_piece_by_piece_comes_to_the_same(level: int, on_order: int, listed: list[tuple[int, int]]) -> None:
    asked = [want(number, quantity, days) for number, (quantity, days) in enumerate(listed)]
    pieces = ["there"] * level + ["coming"] * on_order
    dealt = {}
    for one in sorted(asked, key=lambda one: (one.promised_on, one.number)):
        mine = [pieces.pop(0) for _ in range(int(one.quantity)) if pieces]
        dealt[one.number] = (mine.count("there"), mine.count("coming"), int(one.quantity) - len(mine))
    shares = share_out(Decimal(level), Decimal(on_order), asked)
    assert {share.want.number: (share.there, share.coming, share.missing) for share in shares} == dealt


@pytest.mark.parametrize(
    ("level", "on_order", "wanted", "mark", "order"),
    [(5, 0, 2, 0, 0), (0, 0, 2, 0, 2), (0, 2, 2, 0, 0), (5, 0, 2, 2, 0), (4, 0, 2, 2, 2), (0, 0, 3, 4, 11)],
)
def test_orders_cover_the_tickets_and_fill_up_to_twice_the_mark(
    level: int, on_order: int, wanted: int, mark: int, order: int
) -> None:
    assert suggested_order(*(Decimal(number) for number in (level, on_order, wanted, mark))) == order
