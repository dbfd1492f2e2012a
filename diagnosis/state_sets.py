"""Sets of states kept as decision diagrams, so that millions of states cost as little as thousands. Pure.

A state is a row of small numbers, one a place. A set of states is a diagram: at each place, for each value, what may
follow (Bryant 1986; Ciardo, Lüttgen and Siminiceanu 2001 for more than two values). Equal sets are one number, so
comparing them costs nothing. A change is a product: at each place, independently of the others, it says which values
it may meet and which each becomes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

NOTHING, DONE = 0, 1
MOST_NODES = 1_500_000  # the shipped checklists, counted with the age of their proofs, take up to 70,000
Row = tuple[int, ...]
PlaceChange = tuple[tuple[int, ...], ...]
"""At one place: for each value met, those that it may become; none where the change cannot happen there."""


class TooManyStates(Exception):
    """The sets grew so large that going on would take minutes and memory."""


class Change:
    """What happens to a state, place by place; places that are not named stay as they are."""

    def __init__(self, sizes: Sequence[int], places: Mapping[int, PlaceChange]) -> None:
        same = [tuple((value,) for value in range(size)) for size in sizes]
        self.places = {place: change for place, change in places.items() if change != same[place]}
        self.last = max(self.places, default=-1)
        self.key = tuple(sorted(self.places.items()))

    def backwards(self, sizes: Sequence[int]) -> Change:
        """The change that leads from what it makes to what it meets."""
        turned: dict[int, PlaceChange] = {}
        for place, change in self.places.items():
            turned[place] = tuple(
                tuple(value for value in range(sizes[place]) if after in change[value]) for after in range(sizes[place])
            )
        return Change(sizes, turned)


class StateSets:
    """Sets of rows of the given sizes. A set is a number that means nothing outside this object."""

    def __init__(self, sizes: Sequence[int]) -> None:
        self.sizes = tuple(sizes)
        self._nodes: list[tuple[int, ...]] = [(), ()]
        self._known: dict[tuple[int, ...], int] = {}
        self._unions: dict[tuple[int, int], int] = {}
        self._shared: dict[tuple[int, int], int] = {}
        self._without: dict[tuple[int, int], int] = {}
        self._images: dict[object, dict[int, int]] = {}
        self._counts: dict[int, int] = {DONE: 1, NOTHING: 0}

    def _node(self, children: tuple[int, ...]) -> int:
        """The number of the node with these children, which stand at one place: so they name its place too."""
        found = self._known.get(children)
        if found is None:
            if not any(children):
                return NOTHING
            found = self._known[children] = len(self._nodes)
            self._nodes.append(children)
            if found > MOST_NODES:
                raise TooManyStates
        return found

    def product(self, allowed: Mapping[int, Iterable[int]]) -> int:
        """Every row whose value at each place is allowed; a place that is not named may hold any."""
        node = DONE
        for place in reversed(range(len(self.sizes))):
            wanted = set(allowed.get(place, range(self.sizes[place])))
            node = self._node(tuple([node if value in wanted else NOTHING for value in range(self.sizes[place])]))
        return node

    def union(self, one: int, other: int) -> int:
        """What is in either set."""
        if one == other or other == NOTHING:
            return one
        return self._union(one, other) if one else other

    # These three go down two diagrams at once, at two different nodes, neither of them empty: what needs no look is
    # left out where it is met, since a call costs more than the rest of it.

    def _union(self, one: int, other: int) -> int:
        key = (one, other) if one < other else (other, one)
        found = self._unions.get(key)
        if found is None:
            both = zip(self._nodes[one], self._nodes[other], strict=True)
            children = [a if a == b or not b else self._union(a, b) if a else b for a, b in both]
            found = self._unions[key] = self._node(tuple(children))
        return found

    def without(self, one: int, other: int) -> int:
        """What is in one set and not in the other."""
        if one in (other, NOTHING):
            return NOTHING
        return self._minus(one, other) if other else one

    def _minus(self, one: int, other: int) -> int:
        key = (one, other)
        found = self._without.get(key)
        if found is None:
            both = zip(self._nodes[one], self._nodes[other], strict=True)
            children = [NOTHING if a == b or not a else self._minus(a, b) if b else a for a, b in both]
            found = self._without[key] = self._node(tuple(children))
        return found

    def both(self, one: int, other: int) -> int:
        """What is in both sets."""
        if one == other:
            return one
        return self._both(one, other) if one and other else NOTHING

    def _both(self, one: int, other: int) -> int:
        key = (one, other) if one < other else (other, one)
        found = self._shared.get(key)
        if found is None:
            both = zip(self._nodes[one], self._nodes[other], strict=True)
            children = [a if a == b else self._both(a, b) if a and b else NOTHING for a, b in both]
            found = self._shared[key] = self._node(tuple(children))
        return found

    def after(self, states: int, change: Change) -> int:
        """What the change makes of those states in which it can happen."""
        memo = self._images.setdefault(change.key, {NOTHING: NOTHING})
        return self._after(0, states, change, memo)

    def _after(self, place: int, node: int, change: Change, memo: dict[int, int]) -> int:
        if place > change.last:
            return node
        found = memo.get(node)
        if found is not None:
            return found
        children = self._nodes[node]
        own = change.places.get(place)
        if own is None:
            made = [self._after(place + 1, child, change, memo) if child else NOTHING for child in children]
        else:
            made = [NOTHING] * len(children)
            for value, child in enumerate(children):
                if child and own[value]:
                    image = self._after(place + 1, child, change, memo)
                    for after in own[value]:
                        made[after] = self.union(made[after], image)
        found = memo[node] = self._node(tuple(made))
        return found

    def count(self, states: int) -> int:
        """How many rows a set holds."""
        found = self._counts.get(states)
        if found is None:
            found = self._counts[states] = sum(self.count(child) for child in self._nodes[states])
        return found

    def any_of(self, states: int) -> Row:
        """One row of a set that is not empty: the first in the order of the values."""
        if states == NOTHING:
            raise ValueError("there is no state in this set")
        row, node = [], states
        for _ in self.sizes:
            value = next(value for value, child in enumerate(self._nodes[node]) if child)
            row.append(value)
            node = self._nodes[node][value]
        return tuple(row)

    def beginnings(self, longer: StateSets, states: int) -> int:
        """The rows of `longer`, whose first places are those of this object, that go on with nothing but zeros."""
        memo: dict[int, int] = {NOTHING: NOTHING}

        def cut(place: int, node: int) -> int:
            if place == len(self.sizes):
                for _ in range(place, len(longer.sizes)):
                    node = longer._nodes[node][0] if node else NOTHING
                return DONE if node else NOTHING
            if node not in memo:
                memo[node] = self._node(tuple([cut(place + 1, child) for child in longer._nodes[node]]))
            return memo[node]

        return cut(0, states)

    def continued(self, shorter: StateSets, states: int) -> int:
        """Every row that begins as one of `shorter`, whose places are the first of this object, and goes on anyhow."""
        memo: dict[int, int] = {NOTHING: NOTHING}
        rest = {len(self.sizes): DONE}
        for place in reversed(range(len(shorter.sizes), len(self.sizes))):
            rest[place] = self._node((rest[place + 1],) * self.sizes[place])

        def copied(place: int, node: int) -> int:
            if place == len(shorter.sizes):
                return rest[place] if node else NOTHING
            if node not in memo:
                memo[node] = self._node(tuple([copied(place + 1, child) for child in shorter._nodes[node]]))
            return memo[node]

        return copied(0, states)
