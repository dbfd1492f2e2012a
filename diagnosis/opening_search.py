"""Search for the order of checks that costs least, what they open and what is closed again counted. Pure.

The best way to finish depends on the checks made and on the situation alone, so it is found by dynamic programming over
both, one layer for each number of checks made (after Held and Karp 1962). Where more than ``MOST_STATES`` come about,
`good_order` takes the best of the handbook, the best chance for each minute and a search that keeps few states of a
layer, and moves single checks while that helps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from diagnosis.opening_order import Asked, Ordered, cost_of, greedy_order, known_order, lawful_handbook_order
from diagnosis.openings import Openings
from diagnosis.order_search import MOST_SETS, TIE, Floats, Sets, chance_left

MOST_STATES = MOST_SETS
_MOST_SITUATIONS = 1 << 14
_WIDTH = 200  # states kept of a layer where all are too many
_MOST_CHECKS = 48  # a set of checks and the number of a situation are one signed 64-bit integer


def best_lawful_order(asked: Asked, openings: Openings, *, most_states: int = MOST_STATES) -> Ordered:
    """The order of fewest expected minutes; of equal ones the one nearest the handbook."""
    handbook = lawful_handbook_order(asked, openings)
    kept = [number for number, check in enumerate(asked.checks) if check in handbook.checks]
    if len(kept) < len(asked.checks):  # the unit can never be right for the others
        asked = Asked([asked.checks[number] for number in kept], asked.misses[kept], asked.beliefs)
    if len(kept) < 2:
        return replace(handbook, is_exact=True)
    exact = exact_order(asked, openings, most_states)
    return exact if exact is not None else good_order(asked, openings)


@dataclass(frozen=True)
class _Layer:
    """What can come about with so many checks made: sets of checks and situations, and the ways on from there.

    `moves` holds for each check the places of the states it is made in, where it leads in the next layer, its minutes.
    """

    sets: Sets
    situations: Sets
    moves: list[tuple[Sets, Sets, Floats]]


class _Table:
    """Ways by situation and check, as arrays that grow as situations come about."""

    def __init__(self, asked: Asked, openings: Openings) -> None:
        self.checks, self.openings = asked.checks, openings
        self.bits = {check: 1 << number for number, check in enumerate(asked.checks)}
        self.ends: Sets = np.full((0, len(asked.checks)), -1, dtype=np.int64)
        self.waits: Sets = np.zeros((0, len(asked.checks)), dtype=np.int64)
        self.costs: Floats = np.zeros((0, len(asked.checks)))
        self.opens: npt.NDArray[np.bool_] = np.zeros((0, len(asked.checks)), dtype=np.bool_)
        self.known: set[tuple[int, int]] = set()

    @property
    def least(self) -> Floats:
        """The fewest minutes that each check costs anywhere it was looked up."""
        found: Floats = np.min(np.where(self.ends >= 0, self.costs, np.inf), axis=0)
        return found

    def look_up(self, sets: Sets, situations: Sets) -> None:
        """Ways of every check not made yet in some state of a layer."""
        for at in np.unique(situations).tolist():
            made = int(np.bitwise_and.reduce(sets[situations == at]))
            for number, check in enumerate(self.checks):
                if not made >> number & 1 and (at, number) not in self.known:
                    self._add(at, number, check)

    def _add(self, at: int, number: int, check: str) -> None:
        self.known.add((at, number))
        if at >= len(self.ends):
            more = max(at + 1 - len(self.ends), len(self.ends), 16)
            self.ends = np.vstack((self.ends, np.full((more, len(self.checks)), -1, dtype=np.int64)))
            self.waits = np.vstack((self.waits, np.zeros((more, len(self.checks)), dtype=np.int64)))
            self.costs = np.vstack((self.costs, np.zeros((more, len(self.checks)))))
            self.opens = np.vstack((self.opens, np.zeros((more, len(self.checks)), dtype=np.bool_)))
        way = self.openings.way(at, check)
        if way is not None:
            self.ends[at, number] = way.ends
            self.waits[at, number] = sum(self.bits.get(one, 0) for one in way.waits_for)
            self.costs[at, number] = self.openings.costs(at, way)
            self.opens[at, number] = way.opens

    def harmless(self, situations: Sets) -> Sets:
        """For each state and check that opens the unit, the set of checks that open nothing and cost no more."""
        here, places = np.unique(situations, return_inverse=True)
        costs = self.costs[here]
        opens_not = ~self.opens[here] & (self.ends[here] >= 0)
        before = opens_not[:, None, :] & (costs[:, None, :] <= costs[:, :, None]) & self.opens[here][:, :, None]
        found: Sets = (before @ (1 << np.arange(len(self.checks), dtype=np.int64)))[places]
        return found


def exact_order(asked: Asked, openings: Openings, most_states: int = MOST_STATES) -> Ordered | None:
    """The cheapest order by dynamic programming; None where more than `most_states` states come about."""
    layers = _layers(asked, openings, most_states=most_states) if len(asked.checks) <= _MOST_CHECKS else None
    return replace(_cheapest(layers, asked, openings), is_exact=True) if layers is not None else None


def _cheapest(layers: Sequence[_Layer], asked: Asked, openings: Openings) -> Ordered:
    """The cheapest order through layers of states; of equally cheap ones the one nearest the handbook."""
    to_go = [np.zeros(len(layers[-1].sets))]
    for layer in reversed(layers[:-1]):
        least = np.full(len(layer.sets), np.inf)
        for here, there, minutes in layer.moves:
            least[here] = np.minimum(least[here], minutes + to_go[-1][there])
        to_go.append(least)
    to_go.reverse()
    whole = abs(float(to_go[0][0])) + openings.closing(0)
    order: list[str] = []
    at = 0
    for layer, now, after in zip(layers, to_go, to_go[1:], strict=False):
        for number, (here, there, minutes) in enumerate(layer.moves):  # in handbook order, so that it wins ties
            place = int(np.searchsorted(here, at))
            if place == len(here) or here[place] != at:
                continue
            if minutes[place] + after[there[place]] <= now[at] + TIE * max(whole, 1e-300):
                order.append(asked.checks[number])
                at = int(there[place])
                break
    found = cost_of(order, asked, openings)
    return known_order(found)


def _layers(
    asked: Asked, openings: Openings, *, most_states: int | None = None, width: int | None = None
) -> list[_Layer] | None:
    """What can come about, a layer for each number of checks made; None where it is more than `most_states`.

    `width` keeps only so many states of a layer: those that cost least so far, half of what is left for certain added.
    """
    table = _Table(asked, openings)
    spent = np.zeros(1)
    sets: Sets = np.zeros(1, dtype=np.int64)
    situations: Sets = np.zeros(1, dtype=np.int64)
    layers: list[_Layer] = []
    states = 1
    for _ in asked.checks:
        table.look_up(sets, situations)
        weight = chance_left(asked.misses, asked.beliefs, sets)
        ends, waits = table.ends[situations], table.waits[situations]
        bits = 1 << np.arange(len(asked.checks), dtype=np.int64)
        made = sets[:, None]
        can = ((made & bits) == 0) & (ends >= 0) & ((made & waits) == waits)
        can &= (table.harmless(situations) & (can @ bits)[:, None]) == 0
        moves = []
        for number in range(len(asked.checks)):
            here = np.flatnonzero(can[:, number])
            codes = (sets[here] | 1 << number) * _MOST_SITUATIONS + ends[here, number]
            moves.append((here, codes, table.costs[situations[here], number] * weight[here]))
        codes = np.unique(np.concatenate([codes for _, codes, _ in moves]))
        states += len(codes)
        if not len(codes) or (most_states and states > most_states) or int(table.ends.max()) >= _MOST_SITUATIONS:
            return None
        so_far = np.full(len(codes), np.inf)
        for here, to, minutes in moves:
            np.minimum.at(so_far, np.searchsorted(codes, to), spent[here] + minutes)
        if width is not None and len(codes) > width:
            chance = chance_left(asked.misses, asked.beliefs, codes // _MOST_SITUATIONS)
            open_yet = (codes // _MOST_SITUATIONS)[:, None] & bits == 0
            rank = so_far + chance * (open_yet @ table.least) / 2.0
            kept = np.sort(np.argpartition(rank, width)[:width])
            codes, so_far = codes[kept], so_far[kept]
            moves = [
                (here[found], to[found], minutes[found])
                for here, to, minutes in moves
                for found in (np.isin(to, codes),)
            ]
        layers.append(
            _Layer(sets, situations, [(here, np.searchsorted(codes, to), minutes) for here, to, minutes in moves])
        )
        sets, situations, spent = codes // _MOST_SITUATIONS, codes % _MOST_SITUATIONS, so_far
    layers.append(_Layer(sets, situations, []))
    return layers


def good_order(asked: Asked, openings: Openings) -> Ordered:
    """A good order for long lists: the best of the handbook, the greedy and a narrow search, with checks moved."""
    handbook = cost_of(lawful_handbook_order(asked, openings).checks, asked, openings)
    starts = [greedy_order(asked, openings), *([handbook] if handbook is not None else [])]
    layers = _layers(asked, openings, width=_WIDTH) if len(asked.checks) <= _MOST_CHECKS else None
    starts += [_cheapest(layers, asked, openings)] if layers is not None else []
    most = max(len(one.ways) for one in starts)
    return min((_moved(one, asked, openings) for one in starts if len(one.ways) == most), key=lambda one: one.minutes)


def _moved(now: Ordered, asked: Asked, openings: Openings) -> Ordered:
    """Each check in turn at the place where it costs least, until none moves."""
    while True:
        before = now.minutes
        for check in now.checks:
            rest = [other for other in now.checks if other != check]
            for place in range(len(rest) + 1):
                other = cost_of([*rest[:place], check, *rest[place:]], asked, openings)
                if other is not None and other.minutes < now.minutes - TIE * abs(now.minutes):
                    now = other
        if now.minutes >= before - TIE * abs(before):
            return now
