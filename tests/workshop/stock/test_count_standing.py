"""Whether a count holds, and whether it looks like a slip."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.stock.count_standing import Counted, Standing, Stands, doubt_of, standing_of_count
from workshop.stock.shelf_order import natural_key


def count(by: int, counted: int, level: int = 5) -> Counted:
    return Counted(by, Decimal(counted), Decimal(level))


@pytest.mark.parametrize(
    ("counts", "by_two", "stands", "difference"),
    [
        ([], False, Stands.NOT_COUNTED, 0),
        ([count(1, 4)], False, Stands.SETTLED, -1),
        ([count(1, 4), count(2, 6)], False, Stands.SETTLED, 1),  # whoever counted last
        ([count(1, 4)], True, Stands.SECOND, 0),
        ([count(1, 4), count(1, 4)], True, Stands.SECOND, 0),  # the same person twice is one
        ([count(1, 4), count(2, 4)], True, Stands.SETTLED, -1),
        ([count(1, 4), count(2, 6)], True, Stands.DISAGREE, 0),
        ([count(1, 4), count(2, 6), count(1, 6)], True, Stands.SETTLED, 1),
        ([count(1, 4), count(2, 6), count(3, 6)], True, Stands.SETTLED, 1),
        ([count(1, 4), count(2, 4), count(3, 6)], True, Stands.DISAGREE, 0),
        ([count(1, 4, 5), count(2, 2, 3)], True, Stands.SETTLED, -1),  # two were used between the two counts
    ],
)
def test_where_a_count_stands(counts: list[Counted], by_two: bool, stands: Stands, difference: int) -> None:
    standing = standing_of_count(counts, by_two=by_two)
    assert (standing.stands, standing.difference) == (stands, Decimal(difference))
    assert standing.count == (counts[-1] if counts else None)


def test_what_is_not_settled_books_nothing() -> None:
    assert Standing(Stands.DISAGREE, count(1, 4)).difference == 0


@pytest.mark.parametrize(
    ("counted", "level", "bottle", "says"),
    [
        ("5", "5", None, ""),
        ("4", "5", None, ""),
        ("0", "30", None, ""),  # all gone happens
        ("30", "0", None, ""),
        ("50", "5", None, "nought too many"),
        ("4", "42", None, "figure too few"),
        ("21", "12", None, "other order"),
        ("2.1", "1.2", None, "other order"),
        ("12", "13", None, ""),
        ("2", "950", "500", "bottles"),
        ("900", "950", "500", ""),
        ("100", "950", "500", "figure too few"),
    ],
)
def test_what_looks_like_a_slip(counted: str, level: str, bottle: str | None, says: str) -> None:
    doubt = doubt_of(Decimal(counted), Decimal(level), Decimal(bottle) if bottle else None)
    assert says in doubt
    assert bool(says) == bool(doubt)


@given(level=st.integers(1, 9_999), tenfold=st.booleans())
def test_every_nought_too_many_and_too_few_is_doubted(level: int, tenfold: bool) -> None:
    counted = level * 10 if tenfold else level
    shown = level if tenfold else level * 10
    said = "nought too many" if tenfold else "figure too few"
    assert said in doubt_of(Decimal(counted), Decimal(shown))


@given(places=st.lists(st.tuples(st.sampled_from("ABCab"), st.integers(0, 999)), max_size=12))
def test_shelves_stand_by_letter_and_number(places: list[tuple[str, int]]) -> None:
    ordered = sorted((f"{letter}{number}" for letter, number in places), key=natural_key)
    assert [(one[0].lower(), int(one[1:])) for one in ordered] == sorted(
        (letter.lower(), number) for letter, number in places
    )


def test_a_part_without_a_place_comes_last() -> None:
    assert sorted(["", "A10", "10", "a2", "Drawer", " "], key=natural_key)[-2:] == ["", " "]
    assert sorted(["A10", "A2", "9", "A"], key=natural_key) == ["9", "A", "A2", "A10"]
