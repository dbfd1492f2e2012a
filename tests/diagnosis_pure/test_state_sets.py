"""Sets of states as diagrams, against the same sets written out."""

from __future__ import annotations

import random
from itertools import product

import pytest

from diagnosis.state_sets import NOTHING, Change, StateSets
from tests.state_rows import cut_short

Rows = set[tuple[int, ...]]


def written_out(sets: StateSets, states: int) -> Rows:
    return {row for row in product(*map(range, sets.sizes)) if sets.both(states, one_row(sets, row))}


def one_row(sets: StateSets, row: tuple[int, ...]) -> int:
    return sets.product({place: [value] for place, value in enumerate(row)})


def made(sets: StateSets, rows: Rows) -> int:
    found = NOTHING
    for row in rows:
        found = sets.union(found, one_row(sets, row))
    return found


def some_rows(chance: random.Random, sizes: tuple[int, ...]) -> Rows:
    return {row for row in product(*map(range, sizes)) if chance.random() < 0.4}


def some_change(chance: random.Random, sizes: tuple[int, ...]) -> Change:
    places = {
        place: tuple(
            tuple(sorted(chance.sample(range(size), chance.choice([0, 1, 1, min(2, size)])))) for _ in range(size)
        )
        for place, size in enumerate(sizes)
        if chance.random() < 0.6
    }
    return Change(sizes, places)


def changed(rows: Rows, change: Change) -> Rows:
    found: Rows = set()
    for row in rows:
        found |= set(
            product(*(change.places[place][v] if place in change.places else (v,) for place, v in enumerate(row)))
        )
    return found


@pytest.mark.parametrize("seed", range(40))
def test_what_is_done_with_diagrams_is_what_is_done_with_rows(seed: int) -> None:
    chance = random.Random(seed)
    sizes = tuple(chance.choice([2, 3, 4]) for _ in range(4))
    sets = StateSets(sizes)
    one, other = some_rows(chance, sizes), some_rows(chance, sizes)
    first, second = made(sets, one), made(sets, other)
    change = some_change(chance, sizes)

    assert written_out(sets, sets.union(first, second)) == one | other
    assert written_out(sets, sets.both(first, second)) == one & other
    assert written_out(sets, sets.without(first, second)) == one - other
    assert written_out(sets, sets.after(first, change)) == changed(one, change)
    back = change.backwards(sizes)
    assert written_out(sets, sets.after(second, back)) == {
        row for row in product(*map(range, sizes)) if changed({row}, change) & other
    }
    assert sets.count(first) == len(one)
    assert sets.any_of(first) == min(one)


def test_equal_sets_are_one_number_however_they_were_made() -> None:
    sets = StateSets((3, 2, 3))
    rows: Rows = {(0, 1, 2), (1, 0, 0), (2, 1, 1), (0, 0, 0)}
    assert made(sets, rows) == made(sets, rows - {(1, 0, 0)} | {(1, 0, 0)})
    assert sets.without(made(sets, rows), made(sets, rows)) == NOTHING


def test_rows_are_made_longer_and_cut_again() -> None:
    short, long = StateSets((2, 3)), StateSets((2, 3, 2, 2))
    states = made(short, {(0, 2), (1, 1)})
    longer = long.continued(short, states)
    assert long.count(longer) == 8
    assert short.beginnings(long, longer) == states
    assert cut_short(short, long, longer) == states
    assert cut_short(short, long, made(long, {(0, 2, 0, 0), (1, 1, 1, 0)})) == made(short, {(0, 2), (1, 1)})
    assert short.beginnings(long, made(long, {(0, 2, 0, 0), (1, 1, 1, 0)})) == made(short, {(0, 2)})


def test_there_is_no_state_in_an_empty_set() -> None:
    with pytest.raises(ValueError, match="no state"):
        StateSets((2, 2)).any_of(NOTHING)
