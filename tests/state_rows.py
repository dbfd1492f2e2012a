"""Rows of sets of states as only tests want them: one by chance, and all cut off after their first places."""

from __future__ import annotations

from collections.abc import Callable

from diagnosis.state_sets import DONE, NOTHING, Row, StateSets


def drawn_from(sets: StateSets, states: int, chance: Callable[[], float]) -> Row:
    """One row of a set that is not empty, each as likely as any other; `chance` gives numbers from 0 to below 1."""
    row, node = [], states
    for _ in sets.sizes:
        left, value = int(chance() * sets.count(node)), 0
        while left >= sets.count(sets._nodes[node][value]):
            left -= sets.count(sets._nodes[node][value])
            value += 1
        row.append(value)
        node = sets._nodes[node][value]
    return tuple(row)


def cut_short(sets: StateSets, longer: StateSets, states: int) -> int:
    """The rows of `longer`, whose first places are those of this object, cut off after those."""
    memo: dict[int, int] = {NOTHING: NOTHING}

    def cut(place: int, node: int) -> int:
        if place == len(sets.sizes):
            return DONE if node else NOTHING
        if node not in memo:
            memo[node] = sets._node(tuple([cut(place + 1, child) for child in longer._nodes[node]]))
        return memo[node]

    return cut(0, states)
