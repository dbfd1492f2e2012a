"""Search for the order of steps that costs least on average, on plain arrays.

The cost of an order is ``sum(minutes[s] * weight(done before s))`` with
``weight(done) = sum(beliefs[c] * prod(misses[r, c] for r in done))``: the chance that the search is still on
when step ``s`` starts. The weight depends on which steps are done, not on their order, so the best way to
finish from a set of done steps depends on that set alone (dynamic programming over sets, Held and Karp 1962).

Only sets closed under prerequisites can arise. The answer is exact while there are at most ``MOST_SETS`` of
them, which covers any 16 steps and longer lists with many prerequisites. Beyond that ``long_sequence`` is
used: greedy by ratio over steps with their missing prerequisites (after Sidney 1975), then local improvement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Sets = npt.NDArray[np.int64]

MOST_SETS = 2**16
MOST_BITS = 62  # a set is one signed 64-bit integer
DENSE_BITS = 20  # up to here a table over all sets, possible or not, is small and quick to look up
WINDOW = 8
TIE = 1e-9  # orders closer than this share of the whole cost count as equal


@dataclass(frozen=True)
class OrderProblem:
    """Steps in handbook order as arrays: ``minutes`` (n,), ``misses`` (n, causes), ``beliefs`` (causes,).

    ``needs[s]`` holds the indices of the steps that must come before ``s``; there must be no cycle.
    """

    minutes: Floats
    misses: Floats
    beliefs: Floats
    needs: Sequence[frozenset[int]]

    def cost(self, order: Sequence[int]) -> float:
        """Expected minutes of ``order`` (indices, possibly only the first steps of a longer order)."""
        if not order:
            return 0.0
        index = list(order)
        left = np.ones((len(index), len(self.beliefs)))
        np.cumprod(self.misses[index[:-1]], axis=0, out=left[1:])
        return float(self.minutes[index] @ (left @ self.beliefs))

    def part(self, steps: Sequence[int], done: Sequence[int]) -> OrderProblem:
        """The problem of ordering only ``steps`` once ``done`` have failed to end the search."""
        place = {step: position for position, step in enumerate(steps)}
        index = list(steps)
        return OrderProblem(
            self.minutes[index],
            self.misses[index],
            self.beliefs * np.prod(self.misses[list(done)], axis=0),
            [frozenset(place[need] for need in self.needs[step] if need in place) for step in steps],
        )


def handbook_sequence(needs: Sequence[frozenset[int]]) -> list[int]:
    """Standard order, with a step that stands before its own prerequisites held back until they are done."""
    order: list[int] = []
    waiting = list(range(len(needs)))
    while waiting:
        done = set(order)
        ready = next((step for step in waiting if needs[step] <= done), None)
        if ready is None:
            raise ValueError("the prerequisites form a cycle")
        order.append(ready)
        waiting.remove(ready)
    return order


def best_sequence(problem: OrderProblem) -> list[int]:
    """Indices in the cheapest order; of equally cheap orders the one that keeps closest to the handbook."""
    exact = exact_sequence(problem)
    return long_sequence(problem) if exact is None else exact


def exact_sequence(problem: OrderProblem, most_sets: int = MOST_SETS) -> list[int] | None:
    """The cheapest order by dynamic programming, or None when more than ``most_sets`` sets can arise."""
    count = len(problem.minutes)
    if count > MOST_BITS:
        return None
    bits, needs = _bits(problem.needs)
    sets = _closed_sets(bits, needs, most_sets)
    if sets is None:
        return None
    weights = chance_left(problem.misses[np.argsort(bits)], problem.beliefs, sets)
    to_go = _minutes_to_go(problem, bits, sets, weights)
    tie = TIE * max(float(to_go[0]), 1e-300)
    order: list[int] = []
    done = 0
    while len(order) < count:
        here = int(np.searchsorted(sets, done))
        for step in range(count):  # handbook order, so that the handbook wins ties
            if done & bits[step] or done & needs[step] != needs[step]:
                continue
            after = int(np.searchsorted(sets, done | bits[step]))
            if problem.minutes[step] * weights[here] + to_go[after] <= to_go[here] + tie:
                order.append(step)
                done |= bits[step]
                break
    return order


def _bits(needs: Sequence[frozenset[int]]) -> tuple[list[int], list[int]]:
    """A bit for each step, prerequisites in lower bits, and the mask of bits each step needs."""
    bits = [0] * len(needs)
    for rank, step in enumerate(handbook_sequence(needs)):
        bits[step] = 1 << rank
    return bits, [sum(bits[need] for need in wanted) for wanted in needs]


def _closed_sets(bits: list[int], needs: list[int], most_sets: int) -> Sets | None:
    """Every set of steps that can be done at some moment, ascending; None when there are too many.

    A step is added to all the sets that hold its prerequisites; as prerequisites have lower bits, each set
    arises once and the array stays sorted.
    """
    sets: Sets = np.zeros(1, dtype=np.int64)
    for bit, needed in sorted(zip(bits, needs, strict=True)):
        grown = sets[(sets & needed) == needed] if needed else sets
        if len(sets) + len(grown) > most_sets:
            return None
        sets = np.concatenate((sets, grown | bit))
    return sets


def chance_left(misses: Floats, beliefs: Floats, sets: Sets) -> Floats:
    """The chance that the search is still on after each set of steps; bit ``n`` of a set is the step of row ``n``.

    The chance that a cause is missed is a product over the steps done, looked up eight steps at a time.
    """
    parts = [(sets >> first) & 255 for first in range(0, len(misses), 8)]
    weights = np.zeros(len(sets))
    for cause, belief in enumerate(beliefs):
        left = np.full(len(sets), belief)
        for block, part in enumerate(parts):
            table = np.ones(1)
            for miss in misses[8 * block : 8 * block + 8, cause]:
                table = np.concatenate((table, table * miss))
            left *= table[part]
        weights += left
    return weights


def _minutes_to_go(problem: OrderProblem, bits: list[int], sets: Sets, weights: Floats) -> Floats:
    """Least expected minutes from each set of done steps to the end, larger sets first.

    Steps need no check: one done already leads to the set itself, one whose prerequisites are missing to a set
    that cannot arise, and the minutes to go from either are still infinite when they are looked up.
    """
    dense = len(bits) <= DENSE_BITS
    to_go = np.full(1 << len(bits) if dense else len(sets) + 1, np.inf)
    places: Sets = sets if dense else np.arange(len(sets))
    to_go[places[-1]] = 0.0
    sizes = np.bitwise_count(sets)
    by_size = np.argsort(sizes, kind="stable")
    starts = np.searchsorted(sizes[by_size], np.arange(len(bits) + 1))
    for size in range(len(bits) - 1, -1, -1):
        here = by_size[starts[size] : starts[size + 1]]
        layer, weight = sets[here], weights[here]
        best = np.full(len(here), np.inf)
        for bit, minutes in zip(bits, problem.minutes, strict=True):
            after = layer | bit
            if not dense:
                found = np.searchsorted(sets, after)
                after = np.where(sets[found] == after, found, len(sets))
            np.minimum(best, to_go[after] + minutes * weight, out=best)
        to_go[places[here]] = best
    return to_go[places]


def long_sequence(problem: OrderProblem) -> list[int]:
    """A good order for long lists: the better of the improved handbook and the improved greedy order.

    Both respect the prerequisites, so the answer never costs more than the handbook order.
    """
    handbook = _improved(problem, handbook_sequence(problem.needs))
    greedy = _improved(problem, greedy_sequence(problem))
    tie = TIE * problem.cost(handbook)
    return greedy if problem.cost(greedy) < problem.cost(handbook) - tie else handbook


def greedy_sequence(problem: OrderProblem) -> list[int]:
    """Again and again the step which, with its missing prerequisites, ends most searches for each minute.

    Without prerequisites and with separate causes this is the order of decreasing p/t, which is the best.
    """
    place = {step: position for position, step in enumerate(handbook_sequence(problem.needs))}
    closures = [_with_prerequisites(problem.needs, step) for step in place]
    order: list[int] = []
    left = problem.beliefs.copy()
    while len(order) < len(place):
        bundles = [sorted(closure - set(order), key=place.__getitem__) for closure in closures]
        bundle = max((b for b in bundles if b), key=lambda b: _ended_per_minute(problem, left, b))
        order.extend(bundle)
        left = left * np.prod(problem.misses[bundle], axis=0)
    return order


def _with_prerequisites(needs: Sequence[frozenset[int]], step: int) -> frozenset[int]:
    closure, waiting = {step}, [step]
    while waiting:
        fresh = needs[waiting.pop()] - closure
        closure |= fresh
        waiting.extend(fresh)
    return frozenset(closure)


def _ended_per_minute(problem: OrderProblem, left: Floats, bundle: list[int]) -> float:
    ended = float(left @ (1.0 - np.prod(problem.misses[bundle], axis=0)))
    minutes = float(problem.minutes[bundle].sum())
    if minutes > 0.0:
        return ended / minutes
    return float("inf") if ended > 0.0 else 0.0


def _improved(problem: OrderProblem, order: list[int]) -> list[int]:
    """Re-order short stretches exactly and move single steps, until neither helps."""
    cost = problem.cost(order)
    while True:
        order = _moved(problem, _windows(problem, order))
        better = problem.cost(order)
        if better >= cost - TIE * cost:
            return order
        cost = better


def _windows(problem: OrderProblem, order: list[int]) -> list[int]:
    """One sweep of exact re-ordering over overlapping stretches of ``WINDOW`` steps."""
    for start in range(0, max(len(order) - WINDOW // 2, 1), WINDOW // 2):
        stretch = order[start : start + WINDOW]
        best = exact_sequence(problem.part(stretch, order[:start]))
        if best is not None:
            order = [*order[:start], *(stretch[place] for place in best), *order[start + WINDOW :]]
    return order


def _moved(problem: OrderProblem, order: list[int]) -> list[int]:
    """One sweep that takes each step to the cheapest place its prerequisites and dependants allow."""
    for step in list(order):
        rest = [other for other in order if other != step]
        lowest = max((rest.index(need) + 1 for need in problem.needs[step]), default=0)
        highest = min((i for i, other in enumerate(rest) if step in problem.needs[other]), default=len(rest))
        place = _cheapest_place(problem, rest, step, lowest, highest)
        moved = [*rest[:place], step, *rest[place:]]
        if problem.cost(moved) < problem.cost(order) * (1.0 - TIE):
            order = moved
    return order


def _cheapest_place(problem: OrderProblem, rest: list[int], step: int, lowest: int, highest: int) -> int:
    """Where in ``rest`` to put ``step``: all places at once from the weights with and without it."""
    left = np.vstack((np.ones(len(problem.beliefs)), np.cumprod(problem.misses[rest], axis=0)))
    without = left @ problem.beliefs  # (places,): weight before each place
    with_it = left @ (problem.beliefs * problem.misses[step])
    minutes = problem.minutes[rest]
    before = np.concatenate(([0.0], np.cumsum(minutes * without[:-1])))
    after = np.concatenate((np.cumsum((minutes * with_it[:-1])[::-1])[::-1], [0.0]))
    total = before + problem.minutes[step] * without + after
    return lowest + int(np.argmin(total[lowest : highest + 1]))
