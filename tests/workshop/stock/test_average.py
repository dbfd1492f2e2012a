"""What is kept by its moving average: used and put back, counted, without a cost, and empty."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from workshop.stock.average import Pool

MOVES = st.lists(
    st.tuples(st.integers(1, 50), st.one_of(st.none(), st.decimals("0.01", "99", places=2)), st.booleans()),
    min_size=1, max_size=20,
)  # fmt: skip


def test_what_comes_back_from_a_ticket_is_worth_what_it_was_when_it_went() -> None:
    pool = Pool()
    pool.bought(Decimal(10), Decimal(2))
    pool.went(Decimal(4), 7)
    pool.bought(Decimal(6), Decimal(5))
    pool.came_back(Decimal(4), 7)
    assert (pool.level, pool.value) == (Decimal(16), Decimal(50))


def test_used_again_after_it_came_back_it_goes_at_the_average_of_then() -> None:
    pool = Pool()
    pool.bought(Decimal(4), Decimal(2))
    for _ in range(2):
        assert pool.went(Decimal(4), 7) == 8
        pool.came_back(Decimal(4), 7)
    assert (pool.level, pool.value) == (Decimal(4), Decimal(8))


def test_what_is_found_at_a_count_is_worth_the_average_and_what_is_missing_too() -> None:
    pool = Pool()
    pool.bought(Decimal(10), Decimal(3))
    pool.found(Decimal(2))
    assert pool.value == 36
    pool.went(Decimal(6))
    assert (pool.level, pool.value, pool.average) == (Decimal(6), Decimal(18), Decimal(3))


def test_of_what_nobody_knows_the_cost_there_is_no_value_and_it_goes_in_its_share() -> None:
    pool = Pool()
    pool.bought(Decimal(4), None)
    assert pool.average is None
    assert (pool.value, pool.unknown) == (Decimal(0), Decimal(4))
    pool.bought(Decimal(4), Decimal(5))
    assert [pool.average, pool.value] == [Decimal(5), Decimal(20)]
    assert pool.went(Decimal(2)) is None
    assert (pool.known, pool.unknown, pool.value) == (Decimal(3), Decimal(3), Decimal(15))


def test_what_goes_back_to_who_sold_it_takes_its_own_cost_with_it() -> None:
    pool = Pool()
    pool.bought(Decimal(10), Decimal(2))
    pool.bought(Decimal(5), Decimal(8))
    pool.unbought(Decimal(5), Decimal(8))
    assert (pool.level, pool.value) == (Decimal(10), Decimal(20))
    pool.unbought(Decimal(5), Decimal(8))  # more than is left of it: at the average
    assert (pool.level, pool.value) == (Decimal(5), Decimal(10))


def test_found_where_nothing_is_known_stays_unknown() -> None:
    pool = Pool()
    pool.found(Decimal(3))
    assert (pool.level, pool.unknown, pool.value) == (Decimal(3), Decimal(3), Decimal(0))


@given(MOVES)
def test_an_empty_shelf_is_worth_nothing(
    moves: list[tuple[int, Decimal | None, bool]],
) -> None:
    pool = Pool()
    for quantity, cost, out in moves:
        if out and pool.level >= quantity:
            pool.went(Decimal(quantity))
        else:
            pool.bought(Decimal(quantity), cost)
        assert pool.value >= 0
    pool.went(pool.level)
    assert (pool.value, round(pool.level, 9)) == (Decimal(0), Decimal(0))
