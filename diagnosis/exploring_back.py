"""A way to ready from every state that can come about, found twice: by walking there, and backwards from ready. Pure.

Only plain answers are given (done, ruled out, proved), each only where the unit is as its step requires and what it
needs was done. A row here is a state with the age of each proof and the steps done that others need.

Walking: the handbook once from its first step, then whatever still closes or proves. Nothing counts as ticked before,
every proof as too old, so whatever a step needs has to be done on the way; where a step cannot be done it is passed by.
Whoever has ticked more can go the same way, for a need is only ever met by more, and so is a proof.

Backwards: everything from which one answer leads to ready, then everything from which one leads there, until nothing
comes in addition. What can come about and is not among it has no way to ready, whichever steps are chosen. Compared
with it are the conditions that can come about with every age of every proof and every set of steps done: more than the
bench can come to, so nothing is left out. The search stays among those, for whatever is done there leads there again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any

from diagnosis.layout_plans import PROOF, WORK
from diagnosis.runs_rules import needs_of
from diagnosis.state_sets import NOTHING, Change, PlaceChange, StateSets
from diagnosis.state_space import FRESH, NO_PROOF, PLAIN, STALE, Exploration, SpaceAnswer, aged
from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import EMPTY, PARTS
from diagnosis.unit_state import effects

_NOT_DONE, _DONE = 0, 1
_ROUNDS = 4


class WayBack:
    """The conditions of `at`, which keeps no ages, with the age of each proof and the steps done that others need."""

    def __init__(self, at: Exploration) -> None:
        self.at, self.first = at, len(at.places.sizes)
        self.needs = self._needs()
        self.kept = self._kept()
        self.of_proof = {proof.key: number for number, proof in enumerate(at.proofs, self.first)}
        self.of_step = {key: number for number, key in enumerate(self.kept, self.first + len(at.proofs))}
        self.sizes = [*at.places.sizes, *(3 for _ in self.of_proof), *(2 for _ in self.of_step)]
        self.sets = StateSets(self.sizes)
        self.ready, self.every = self._ready(), self.sets.product({})
        self.moves = [(step, list(self._moves(step))) for step in at.steps]

    def stuck(self, states: int) -> int:
        """Where those end, in rows of this object, that never come to ready."""
        nothing = {place: [0] for place in (*self.of_proof.values(), *self.of_step.values())}
        left = self.sets.both(self.sets.continued(self.at.sets, states), self.sets.product(nothing))
        for number in range(_ROUNDS):
            for step, moves in self.moves:
                wanted = self.every if number == 0 else self._asked_again(step, opens=number % 2 == 0)
                for change, where in moves if wanted else ():
                    left = self._done_where_it_can_be(left, change, self.sets.both(where, wanted))
            left = self.sets.without(left, self.ready)
            if left == NOTHING:
                break
        return left

    def _asked_again(self, step: Any, *, opens: bool) -> int:
        """Where a step is done in a later round: not done yet, or what it closes is open; `opens`: what takes apart."""
        if step.kind == PROOF or (opens and step.kind == WORK):
            return self.every
        found = self.sets.product({self.of_step[step.key]: [_NOT_DONE]}) if step.key in self.of_step else NOTHING
        for part, value in effects(step, PLAIN[step.kind]).items() if step.kind == WORK else ():
            place = self.at.places.of_part.get(part)
            if place is not None and PARTS[part].is_closed(value):
                numbers = [one for one in range(self.sizes[place]) if self.at.is_open(part, one)]
                emptied = [self.at.places.values[part][EMPTY]] if PARTS[part].chamber else []
                found = self.sets.union(found, self.sets.product({place: [*numbers, *emptied]}))
        return found

    @cached_property
    def comes_about(self) -> int:
        """Every state that comes about, in rows of this object, with any age of its proofs and any steps done."""
        return self.sets.continued(self.at.sets, self.at.reached)

    @cached_property
    def leads_to_ready(self) -> int:
        """Every row among those that come about from which some plain answers lead to ready."""
        back = [change.backwards(self.sizes) for _, moves in reversed(self.moves) for change, _ in moves]
        states, before = self.sets.both(self.ready, self.comes_about), NOTHING
        while states not in (before, self.comes_about):
            before = states
            for change in back:
                states = self.sets.union(states, self.sets.both(self.sets.after(states, change), self.comes_about))
        return states

    def without_a_way(self) -> int:
        """The states of `at` that come about and from which no way leads to ready, found backwards from ready.

        Whoever has a way with nothing done and every proof too old has it with more done, so those rows decide.
        """
        return self.at.sets.beginnings(self.sets, self.sets.without(self.comes_about, self.leads_to_ready))

    def lost(self) -> int:
        """One state that comes about, by its conditions, from which no way was walked; nothing if there is none."""
        if not self.stuck(self.at.reached):
            return NOTHING
        states = next(layer for layer in self.at.layers if self.stuck(layer))
        for place, size in enumerate(self.at.places.sizes):
            states = next(
                one
                for value in range(size)
                if (one := self.at.sets.both(states, self.at.sets.product({place: [value]}))) and self.stuck(one)
            )
        return states

    def _done_where_it_can_be(self, states: int, change: Change, where: int) -> int:
        can = self.sets.both(states, where)
        return self.sets.union(self.sets.without(states, where), self.sets.after(can, change)) if can else states

    def _needs(self) -> dict[int, list[frozenset[str]]]:
        """What each step needs on each unit, by the step's id; lists worked as one job each have their own needs."""
        found: dict[int, list[frozenset[str]]] = {}
        for unit in self.at.units:
            for steps in self.at.lists:
                needs = needs_of(steps, unit.facts)
                for step in steps:
                    found.setdefault(id(step), []).append(needs[step.key])
        return found

    def _kept(self) -> list[str]:
        """Steps that others need and that cannot be done at any moment without changing anything."""
        by_key: dict[str, list[Any]] = {}
        for step in self.at.steps:
            by_key.setdefault(step.key, []).append(step)
        free: set[str] = set()
        while True:
            more = {key for key, steps in by_key.items() if key not in free and all(map(self._is_free(free), steps))}
            if not more:
                break
            free |= more
        needed = {need for needs in self.needs.values() for one in needs for need in one}
        needed |= {step.key for step in self.at.steps if step.kind == WORK and step.safety}
        return [key for key in by_key if key in needed - free]

    def _is_free(self, free: set[str]) -> Any:
        def judged(step: Any) -> bool:
            plain = PLAIN[step.kind]
            changes = bool(step.requires or step.opens or effects(step, plain)) or step.kind == PROOF
            return not changes and all(one <= free for one in self.needs[id(step)])

        return judged

    def _moves(self, step: Any) -> Iterator[tuple[Change, int]]:
        """What its plain answer does and where, on the units on which it needs the same."""
        answer = SpaceAnswer(step, PLAIN[step.kind])
        base = dict(self.at.change(answer, as_asked=True).places)
        touched = self.at.touched_by(answer, self.at.left_by(answer))
        for proof in self.at.proofs:
            if proof.key == step.key or touched & self.at.proves[proof.key]:
                base[self.of_proof[proof.key]] = aged(FRESH if proof.key == step.key else STALE)
        if step.key in self.of_step:
            base[self.of_step[step.key]] = ((_DONE,), (_DONE,))
        for needs, numbers in self._alike(step).items():
            places: dict[int, PlaceChange] = {**base, 0: self.at.only_units(numbers)}
            for need in needs & self.of_step.keys():
                places[self.of_step[need]] = ((), (_DONE,))
            if set(places) - {0}:
                where = {place: [value for value, after in enumerate(one) if after] for place, one in places.items()}
                yield Change(self.sizes, places), self.sets.product(where)

    def _alike(self, step: Any) -> Mapping[frozenset[str], list[int]]:
        found: dict[frozenset[str], list[int]] = {}
        for number in self.at.units_of(step):
            found.setdefault(self.needs[id(step)][number], []).append(number)
        return found

    def _ready(self) -> int:
        """Everything closed or mended, each proof younger than what it proves, and no safety step left to do."""
        found = NOTHING
        for number in range(len(self.at.units)):
            steps = [step for step in self.at.steps if number in self.at.units_of(step)]
            wanted: dict[int, list[int]] = {0: [number]}
            for part, place in self.at.places.of_part.items():
                mended = not PARTS[part].finding or brought_about_by(part, PARTS[part].closed, steps)
                numbers = set(self.at.places.values[part].values())
                wanted[place] = [one for one in numbers if not (mended and self.at.is_open(part, one))]
            wanted |= {self.of_proof[step.key]: [FRESH, NO_PROOF] for step in steps if step.kind == PROOF}
            for step in steps:
                if step.key in self.of_step and step.kind == WORK and step.safety:
                    wanted[self.of_step[step.key]] = [_DONE]
            found = self.sets.union(found, self.sets.product(wanted))
        return found
