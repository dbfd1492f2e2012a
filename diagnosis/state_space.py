"""The states that a unit can come into on the bench, whatever is answered in whatever order. Pure.

A state is the condition of each part of the unit (faults that were found among them) and, for each proof, whether it
is younger than what it proves. It is not what was ticked: which steps were answered before is taken to be arbitrary, so
that what a step needs first holds nobody back here, and an answer can be given again or taken back at any time. Only
what the bench refuses for danger is refused. Nothing that the real bench lets happen is left out, so a rule that no
state here breaks is broken nowhere.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from diagnosis.fact_combinations import Combination, combinations
from diagnosis.layout_plans import CHECK, PROOF, WORK
from diagnosis.state_sets import NOTHING, Change, PlaceChange, Row, StateSets
from diagnosis.told import TOLD, Told, can_be_told, conditions_to_tell
from diagnosis.unit_invariants import forbidden
from diagnosis.unit_parts import AS_IT_CAME, PARTS, UNKNOWN, allowed_values, is_danger
from diagnosis.unit_state import PROVED, TAKEN_BACK, effects, endings, opened_on_the_way, says_done

PLAIN = {CHECK: "ruled_out", WORK: "done", PROOF: PROVED}
ABSENT = ""
STALE, FRESH, NO_PROOF = 0, 1, 2


@dataclass(frozen=True)
class SpaceAnswer:
    """One thing that can be ticked: a step of one of the lists and how it ends."""

    step: Any
    outcome: str
    takes_back: frozenset[str] = frozenset()
    """The parts that are left in doubt where an answer is taken back."""

    @property
    def named(self) -> tuple[str, str]:
        return self.step.key, self.outcome


class Places:
    """Where in a row of numbers the combination of facts, the parts and the proofs stand."""

    def __init__(self, steps: Sequence[Any], units: Sequence[Combination], proofs: Sequence[Any]) -> None:
        named = {part for step in steps for part in (*(step.requires or {}), *(step.opens or ()), *(step.proves or ()))}
        named |= {
            part for step in steps for answer in (step.answers or {}).values() for part in answer.get("leaves") or {}
        }
        self.parts = [part for part in PARTS if part in named and any(part in unit.parts for unit in units)]
        self.values = {part: self._values(part, steps, units) for part in self.parts}
        self.of_part = {part: number for number, part in enumerate(self.parts, 1)}
        self.of_proof = {proof.key: number for number, proof in enumerate(proofs, 1 + len(self.parts))}
        self.sizes = [len(units), *(len(set(self.values[part].values())) for part in self.parts), *(3 for _ in proofs)]

    @staticmethod
    def _values(part: str, steps: Sequence[Any], units: Sequence[Combination]) -> dict[str, int]:
        """Each condition's number; those that no rule and no requirement tells apart have the same."""
        told_apart = {allowed_values(part, step.requires[part]) for step in steps if part in (step.requires or {})}
        told_apart |= {
            one.where[part]
            for step in steps
            for outcome in endings(step)
            for one in forbidden(step, outcome)
            if part in one.where
        }
        told_apart |= {frozenset(PARTS[part].closed), frozenset({UNKNOWN}), frozenset({AS_IT_CAME})}
        numbers: dict[tuple[bool, ...], int] = {}
        found = {}
        for value in (AS_IT_CAME, UNKNOWN, *PARTS[part].values):
            found[value] = numbers.setdefault(tuple(value in group for group in told_apart), len(numbers))
        if any(part not in unit.parts for unit in units):
            found[ABSENT] = len(numbers)
        return found


class Exploration:
    """The states of one checklist, or of several worked as one job, on every unit that they suit."""

    def __init__(self, lists: Sequence[Sequence[Any]], kinds: Collection[str], *, with_proofs: bool = True) -> None:
        """`lists` hold the steps in handbook order, as records have them; `with_proofs` keeps the age of each proof."""
        self.lists = lists
        self.steps = list({id(step): step for steps in lists for step in steps}.values())
        self.units = combinations(self.steps, kinds)
        self.proofs = list({step.key: step for step in self.steps if step.kind == PROOF}.values())
        self.proves = {
            proof.key: frozenset(part for step in self.steps if step.key == proof.key for part in step.proves or ())
            for proof in self.proofs
        }
        """What a proof is of, in all the lists that have it: one age stands for it in each of them."""
        self.places = Places(self.steps, self.units, self.proofs if with_proofs else ())
        self.sets = StateSets(self.places.sizes)
        self.of_step = {id(step): number for number, step in enumerate(self.steps)}

    # What can happen

    def units_of(self, step: Any) -> list[int]:
        """The numbers of the combinations on which the step is done, or on which somebody can say this of a part."""
        if step.kind == TOLD:
            return self._told_of[step.part]
        return self._done_on[self.of_step[id(step)]]

    @cached_property
    def _done_on(self) -> list[list[int]]:
        """For each step, by its number, what `units_of` says of it."""
        return [
            [number for number, unit in enumerate(self.units) if unit.applies[step]] for step in range(len(self.steps))
        ]

    @cached_property
    def _told_of(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {part: [] for part in self.places.of_part}
        for number, unit in enumerate(self.units):
            steps = [step for step, applies in zip(self.steps, unit.applies, strict=True) if applies]
            for part in can_be_told(steps).keys() & unit.parts & found.keys():
                found[part].append(number)
        return found

    def only_units(self, numbers: Collection[int]) -> PlaceChange:
        return tuple((number,) if number in numbers else () for number in range(len(self.units)))

    def answers(self) -> Iterator[SpaceAnswer]:
        """Everything that can be ticked, each way of taking back among it, and what somebody can say of a part."""
        for step in self.steps:
            yield from (SpaceAnswer(step, outcome) for outcome in endings(step))
            left = {part for outcome in endings(step) for part in effects(step, outcome)}
            together = {self._left_together[part] & left for part in left & self.places.of_part.keys()}
            yield from (SpaceAnswer(step, TAKEN_BACK, parts) for parts in sorted(together, key=sorted))
            if step.kind == PROOF:
                yield SpaceAnswer(step, TAKEN_BACK)
        for part in self.places.of_part:
            yield from (SpaceAnswer(Told(part, value), TOLD) for value in conditions_to_tell(part))

    @cached_property
    def _left_together(self) -> dict[str, frozenset[str]]:
        """For each part, those that no answer leaves without it: what one answer set, one taking back undoes."""
        by: dict[str, set[tuple[int, str]]] = {}
        for step in self.steps:
            for outcome in endings(step):
                for part in effects(step, outcome):
                    by.setdefault(part, set()).add((id(step), outcome))
        return {part: frozenset(other for other in by if by[other] == by[part]) for part in by}

    def change(self, answer: SpaceAnswer, *, as_asked: bool = False) -> Change:
        """What an answer does where the bench takes it; `as_asked`: only where everything required is so."""
        step, outcome = answer.step, answer.outcome
        places: dict[int, PlaceChange] = {0: self.only_units(self.units_of(step))}
        left = self.left_by(answer)
        for part in self.places.parts:
            values = self.places.values[part]
            change: list[list[int]] = [[] for _ in range(self.places.sizes[self.places.of_part[part]])]
            for value, number in values.items():
                if value == ABSENT:
                    change[number] = [number]
                elif self.is_taken(answer, part, value, as_asked=as_asked):
                    change[number] = [values[left.get(part, value)]]
            places[self.places.of_part[part]] = tuple(tuple(after) for after in change)
        touched = self.touched_by(answer, left)
        for proof in self.proofs if self.places.of_proof else ():
            if proof.key == step.key:
                places[self.places.of_proof[proof.key]] = aged(FRESH if outcome == PROVED else STALE)
            elif touched & self.proves[proof.key]:
                places[self.places.of_proof[proof.key]] = aged(STALE)
        return Change(self.places.sizes, places)

    def left_by(self, answer: SpaceAnswer) -> dict[str, str]:
        if answer.outcome == TAKEN_BACK:
            return dict.fromkeys(answer.takes_back, UNKNOWN)
        return effects(answer.step, answer.outcome)

    def is_taken(self, answer: SpaceAnswer, part: str, value: str, *, as_asked: bool) -> bool:
        """Whether the bench takes the answer while the part is so."""
        step, outcome = answer.step, answer.outcome
        if outcome == TAKEN_BACK:
            could = {effects(step, given).get(part) for given in endings(step)}
            return part not in answer.takes_back or value in could
        if part not in (step.requires or {}) or not says_done(step, outcome):
            return True
        allowed = allowed_values(part, step.requires[part])
        return value in allowed or not (as_asked or is_danger(part, allowed))

    @staticmethod
    def touched_by(answer: SpaceAnswer, left: Mapping[str, str]) -> set[str]:
        opened = set(opened_on_the_way(answer.step, answer.outcome))
        return opened | {part for part, value in left.items() if not PARTS[part].is_closed(value)}

    @cached_property
    def changes(self) -> list[tuple[Change, SpaceAnswer]]:
        """Everything that can happen and changes anything, alike things once."""
        found: dict[object, tuple[Change, SpaceAnswer]] = {}
        for answer in self.answers():
            change = self.change(answer)
            if set(change.places) - {0}:
                found.setdefault(change.key, (change, answer))
        return list(found.values())

    def is_open(self, part: str, number: int) -> bool:
        """Whether the part is open where this number stands for its condition."""
        return any(
            number == own and value != ABSENT and not PARTS[part].is_closed(value)
            for value, own in self.places.values[part].items()
        )

    # Where it leads

    @cached_property
    def start(self) -> int:
        """Each unit as it came in, nothing proved."""
        found = NOTHING
        for number, unit in enumerate(self.units):
            at = {0: [number]}
            for part, place in self.places.of_part.items():
                at[place] = [self.places.values[part][AS_IT_CAME if part in unit.parts else ABSENT]]
            for proof in self.proofs if self.places.of_proof else ():
                at[self.places.of_proof[proof.key]] = [STALE if number in self.units_of(proof) else NO_PROOF]
            found = self.sets.union(found, self.sets.product(at))
        return found

    @cached_property
    def reached(self) -> int:
        """Every state that can come about."""
        states, before = self.start, NOTHING
        while states != before:
            before = states
            for change, _ in self.changes:
                states = self.sets.union(states, self.sets.after(states, change))
        return states

    @cached_property
    def layers(self) -> list[int]:
        """What can come about with at most 0, 1, 2 ... answers, up to where nothing new does."""
        found = [self.start]
        while True:
            states = found[-1]
            for change, _ in self.changes:
                states = self.sets.union(states, self.sets.after(found[-1], change))
            if states == found[-1]:
                return found
            found.append(states)

    def way_to(self, states: int) -> tuple[Row, tuple[tuple[str, str], ...]]:
        """One of the states that come about soonest, and the shortest way there as steps and answers."""
        depth = next(depth for depth, layer in enumerate(self.layers) if self.sets.both(layer, states))
        row = self.sets.any_of(self.sets.both(self.layers[depth], states))
        here, way = row, []
        for layer in reversed(self.layers[:depth]):
            at = self.sets.product({place: [value] for place, value in enumerate(here)})
            for change, answer in self.changes:
                before = self.sets.both(layer, self.sets.after(at, change.backwards(self.places.sizes)))
                if before:
                    here = self.sets.any_of(before)
                    way.append(answer.named)
                    break
        return row, tuple(reversed(way))

    def where(self, conditions: Mapping[str, Collection[str]], units: Collection[int]) -> int:
        """Every state on one of these units in which each of these parts is in one of these conditions."""
        at: dict[int, Collection[int]] = {0: units}
        for part, wanted in conditions.items():
            if part not in self.places.of_part:
                return NOTHING
            values = self.places.values[part]
            at[self.places.of_part[part]] = {values[value] for value in wanted if value in values}
        return self.sets.product(at)

    def can_be_given(self, answer: SpaceAnswer, *, as_asked: bool = False) -> int:
        """The states reached in which the bench takes the answer, or in which everything is as its step requires."""
        wanted: dict[int, Collection[int]] = {0: self.units_of(answer.step)}
        for part, place in self.places.of_part.items():
            wanted[place] = {
                number
                for value, number in self.places.values[part].items()
                if value == ABSENT or self.is_taken(answer, part, value, as_asked=as_asked)
            }
        return self.sets.both(self.sets.product(wanted), self.reached)


def aged(new: int) -> PlaceChange:
    return (new,), (new,), (NO_PROOF,)
