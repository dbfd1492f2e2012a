"""Steps that two runs on one unit share, and what an answer in one run means for the other. Pure.

A step is shared when both checklists have it under the same key and it reads the same on this unit. What is done
to the fork is done once: the answer counts in both runs. Three things would make that a lie, so they are kept out:

- a check that looks for other causes in the other checklist is a question of its own;
- what one run puts together again is closed for the other too: if that one still wants it open, it takes it apart
  again, and nothing that was proved before holds for it;
- a proof counts for a run only when its own work is over, and a failed one leaves the other's proof open.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

from diagnosis.layout import applies, lines_for
from diagnosis.layout_facts import condition_of
from diagnosis.layout_plans import CHECK, PROOF, WORK
from diagnosis.runs_rules import (
    DONE,
    FOUND,
    NOT_PROVED,
    NOTED,
    PROVED,
    TAKEN_BACK,
    Facts,
    First,
    Next,
    Outcomes,
    RunStep,
    can_end_search,
    causes_of,
    first_before,
    needs_of,
    next_step,
    search_is_over,
    standing,
)
from diagnosis.unit_state import LEFT_EARLY, UnitState


class WordedStep(RunStep, Protocol):
    """A step with everything that it says and asks."""

    look_for: Any
    counts_as_found: str
    readings: Any
    timer: Any
    closed_by: str
    frees_port: str


class Side:
    """One run as these rules see it: its steps that apply, in handbook order, and the answers that count.

    `elsewhere` holds the keys of those that were given in another run. Of a `unit` whose state is known, answers that
    no longer hold are left out: those steps are open again.
    """

    def __init__(
        self,
        every_step: Sequence[WordedStep],
        facts: Facts,
        outcomes: Outcomes,
        elsewhere: Collection[str] = (),
        unit: UnitState | None = None,
    ) -> None:
        self.every_step, self.facts, self.elsewhere, self.unit = every_step, facts, elsewhere, unit
        self.outcomes = standing(every_step, outcomes, unit)
        self.steps = [step for step in every_step if applies(step, facts) != "no"]
        self.by_key = {step.key: step for step in self.steps}
        self.place = {step.key: place for place, step in enumerate(self.steps)}
        self.needs = needs_of(every_step, facts)
        # Each step that takes something apart, and the step that puts it together again.
        self.closed_by = {step.key: step.closed_by for step in every_step if step.closed_by}
        self.closing = frozenset(self.closed_by.values())

    @cached_property
    def search_is_over(self) -> bool:
        """Whether a cause was found, or there is none to find."""
        return search_is_over(self.steps, self.outcomes) or not any(map(can_end_search, self.steps))

    @cached_property
    def coming(self) -> Next | None:
        """The next step of the handbook."""
        return next_step(
            self.steps, self.facts, self.outcomes, needs=self.needs, elsewhere=self.elsewhere, unit=self.unit
        )

    def first_before(self, key: str) -> First | None:
        """What has to be done before the step can be, if only itself; see diagnosis.runs_rules.first_before."""
        return first_before(self.by_key[key], self.steps, self.needs, self.outcomes, self.unit)

    def rests_on(self, key: str) -> frozenset[str]:
        """Every step that has to come before `key`, near or far."""
        found: set[str] = set()
        waiting = [key]
        while waiting:
            fresh = self.needs.get(waiting.pop(), frozenset()) - found
            found |= fresh
            waiting.extend(fresh)
        return frozenset(found)

    def resting_on(self, key: str) -> list[WordedStep]:
        """Answered steps that need `key` themselves."""
        return [step for step in self.steps if step.key in self.outcomes and key in self.needs[step.key]]

    def is_closed(self, opening: str) -> bool:
        """Whether what `opening` took apart was put together after it."""
        given = list(self.outcomes)
        closing = self.closed_by[opening]
        return self.outcomes.get(closing) == DONE and opening in given and given.index(closing) > given.index(opening)

    def wants_open(self, opening: str) -> list[str]:
        """Open steps before the closing one that need `opening`, as long as this run has use for them.

        What was taken out through it goes back first, with the safety steps that belong to it, whatever was found.
        """
        closing = self.place.get(self.closed_by[opening], len(self.steps))
        wanted = [
            step.key
            for step in self.steps
            if step.key not in self.outcomes
            and self.place[step.key] < closing
            and opening in self.rests_on(step.key)
            and step.key not in self.closing
        ]
        taken_out = {
            inner
            for inner in self.closed_by
            if self.outcomes.get(inner) == DONE and opening in self.rests_on(inner) and not self.is_closed(inner)
        }
        back = {self.closed_by[inner] for inner in taken_out} - {self.closed_by[opening]}
        return [
            step.key
            for step in self.steps
            if step.key not in self.outcomes and self.place[step.key] < closing and opening in self.rests_on(step.key)
            if step.key in back
            or (self._is_safety_work(step) and taken_out & self.rests_on(step.key))
            or (step.key in wanted and self._has_use_for(step))
        ]

    def _is_safety_work(self, step: WordedStep) -> bool:
        return step.kind == WORK and step.safety and step.key not in self.closing

    def _has_use_for(self, step: WordedStep) -> bool:
        if self.search_is_over:
            return self.coming is not None and step.key == self.coming.towards
        return step.kind == CHECK


@dataclass(frozen=True)
class CountedTick:
    """What is written down in the other run: a step of it, and the outcome there."""

    key: str
    outcome: str
    why: str = ""


def shared_keys(one: Side, other: Side) -> frozenset[str]:
    """Steps that both runs have, that read the same on this unit, and that ask the same of it."""
    return frozenset(
        key
        for key, step in one.by_key.items()
        if key in other.by_key and _looks_for_the_same(step, other.by_key[key]) and is_alike(one, other, key)
    )


def is_alike(one: Side, other: Side, key: str) -> bool:
    """Whether both runs have this step and it reads the same on this unit, whatever each looks for with it."""
    if key not in one.by_key or key not in other.by_key:
        return False
    return reads_the_same(one.by_key[key], one.facts, other.by_key[key], other.facts)


def done_but_asked_again(own: Side, other: Side) -> frozenset[str]:
    """Open steps that read the same and were done in the other run, where they look for other causes.

    They cost this run only the answer.
    """
    return frozenset(
        key
        for key in other.outcomes.keys() & own.by_key.keys() - own.outcomes.keys()
        if not _looks_for_the_same(own.by_key[key], other.by_key[key]) and is_alike(own, other, key)
    )


def counts_in(other: Side, own: Side, key: str, outcome: str, cause: str = "") -> list[CountedTick]:
    """What an answer in one run means for another run on the same unit.

    Args:
        own: the run that was answered, as it stood before the answer.
        outcome: the answer; “taken back” only where the other run's answer is the same one.
        cause: what was found, by key, if it was named.
    """
    if key not in shared_keys(own, other):
        return []
    step = other.by_key[key]
    if outcome == NOT_PROVED or (outcome == LEFT_EARLY and step.kind == PROOF):
        return [CountedTick(key, TAKEN_BACK, "Not proved")] if key in other.outcomes else []
    if outcome == PROVED and not _is_ready_for_proof(other):
        return []
    if outcome == FOUND and can_end_search(step) and cause not in causes_of(step) and not _ask_alike(own, step):
        return []
    if outcome == DONE and key in other.closed_by and own.outcomes.get(key) != DONE and other.is_closed(key):
        return [CountedTick(key, DONE), *_no_longer_so(other, key)]
    if outcome == DONE and key in other.closing:
        reopened = [
            CountedTick(opening, TAKEN_BACK, "Put together again")
            for opening, closing in other.closed_by.items()
            if closing == key and opening in other.outcomes and other.wants_open(opening)
        ]
        if reopened:
            return reopened
    return [CountedTick(key, outcome)]


def carried_over(begun: Side, other: Side) -> list[str]:
    """Answers of a run that count in one begun beside it, by key: not proofs, and not work that was closed since."""
    shared = shared_keys(other, begun)
    closed = {opening for opening in other.closed_by if opening in other.outcomes and other.is_closed(opening)}
    gone = closed | {other.closed_by[opening] for opening in closed}
    return [
        key
        for key, outcome in other.outcomes.items()
        if key in shared
        and key not in gone
        and other.by_key[key].kind != PROOF
        and not (other.by_key[key].kind == WORK and closed & other.rests_on(key))
        and not (
            outcome in (FOUND, NOTED) and can_end_search(begun.by_key[key]) and not _ask_alike(other, begun.by_key[key])
        )
    ]


def due_anyway(side: Side) -> frozenset[str]:
    """Open steps that a run whose cause is found has to do on the way: another run gets them for nothing."""
    if not search_is_over(side.steps, side.outcomes) or side.coming is None:
        return frozenset()
    towards = side.coming.towards
    return (side.rests_on(towards) | {side.coming.key}) - set(side.outcomes)


def go_on_with(sides: Sequence[Side], coming: Sequence[str | None], current: int = 0) -> int | None:
    """Which of a job's runs to go on with, by its place; None when nothing is left in any.

    What can be done from outside comes before anything is taken apart, nothing is closed while another run wants it
    open, and proof comes last. Where that decides nothing it stays with the `current` run.
    """
    left = [place for place, key in enumerate(coming) if key is not None]
    if not left:
        return None
    return min(left, key=lambda place: (_stage(sides, place, coming[place] or ""), place != current, place))


def waits_for(sides: Sequence[Side], place: int, key: str) -> list[tuple[int, str]]:
    """Steps of the other runs that want open what the step `key` would close, as places and keys."""
    found = {
        (other, wanted): None
        for other, side in enumerate(sides)
        if other != place
        for opening, closing in side.closed_by.items()
        if closing == key and side.outcomes.get(opening) == DONE and not side.is_closed(opening)
        for wanted in side.wants_open(opening)
    }
    return list(found)


def repeated(sides: Iterable[Side]) -> list[frozenset[str]]:
    """For each run, the steps that an earlier one of the job has already: a paper prints them once."""
    before: list[Side] = []
    found = []
    for side in sides:
        found.append(frozenset().union(*(shared_keys(earlier, side) for earlier in before)))
        before.append(side)
    return found


def _stage(sides: Sequence[Side], place: int, key: str) -> int:
    side = sides[place]
    if side.by_key[key].kind == PROOF:
        return 4
    if waits_for(sides, place, key):
        return 3
    if key in side.closing:
        return 2
    return 1 if key in side.closed_by or side.rests_on(key) & side.closed_by.keys() else 0


def _is_ready_for_proof(side: Side) -> bool:
    return side.coming is None or side.by_key[side.coming.key].kind == PROOF


def _no_longer_so(side: Side, opening: str) -> list[CountedTick]:
    """What was put together after `opening`, and every proof: it is open again."""
    closing = side.closed_by[opening]
    return [
        CountedTick(key, TAKEN_BACK, "Taken apart again")
        for key, outcome in side.outcomes.items()
        if (side.by_key[key].kind == PROOF and outcome == PROVED)
        or (side.by_key[key].kind == WORK and (key == closing or closing in side.rests_on(key)))
    ]


def reads_the_same(one: WordedStep, one_facts: Facts, other: WordedStep, other_facts: Facts) -> bool:
    """Whether two steps say and ask the same on this unit."""

    def words(step: WordedStep, facts: Facts) -> tuple[object, ...]:
        said = (step.kind, step.title, step.safety, list(step.look_for or ()), step.counts_as_found)
        asked = ([_asked(reading) for reading in step.readings or ()], list(step.bolts or ()), step.timer)
        return (*said, *asked, condition_of(step, facts), lines_for(step, facts))

    return words(one, one_facts) == words(other, other_facts)


def _asked(reading: Any) -> Any:
    """What is asked: a version older than judging asks the same."""
    if not isinstance(reading, Mapping):
        return reading
    return {name: value for name, value in reading.items() if name not in ("wanted", "most", "as_found")}


def _looks_for_the_same(one: RunStep, other: RunStep) -> bool:
    able, other_able = set(causes_of(one)), set(causes_of(other))
    return not (able and other_able) or able == other_able


def _ask_alike(side: Side, step: RunStep) -> bool:
    return set(causes_of(side.by_key[step.key])) == set(causes_of(step))
