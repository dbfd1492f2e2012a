"""What has to be done before a check as the unit is, and what will have to be closed again after it, in minutes. Pure.

The same rules as at the bench (diagnosis.runs_rules.first_before), told ahead: work is taken to be done, checks to rule
out, proofs to hold. Steps that settle a cause are not done on the way to another; a way says which it waits for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from diagnosis.layout_plans import CHECK, PROOF, WORK
from diagnosis.unit_order import brought_about_by, is_opening
from diagnosis.unit_parts import AS_IT_CAME, PARTS, UNKNOWN, allowed_values, is_danger
from diagnosis.unit_state import UnitState, effects

PLAIN: Mapping[str, str] = {CHECK: "ruled_out", WORK: "done", PROOF: "proved"}
_LONGEST = 80  # steps on one way; beyond that it goes in a circle


@dataclass(frozen=True)
class Way:
    """The `steps` to a check, the check itself last; `ends` is the situation after it, `waits_for` checks before it.

    `opens`: something that holds air is opened on it, or the air let out. The wheel and the brake are not the unit's.
    """

    steps: tuple[str, ...]
    minutes: float
    ends: int
    waits_for: frozenset[str]
    opens: bool = False


@dataclass(frozen=True)
class _Known:
    """A step with what these rules ask of it, looked up once."""

    key: str
    kind: str
    minutes: float
    needs: tuple[str, ...]
    requires: tuple[tuple[str, frozenset[str], bool], ...]
    leaves: Mapping[str, str]
    touches: frozenset[str]
    only_closes: frozenset[str]
    unseals: frozenset[str]


@dataclass(frozen=True)
class Situation:
    """The conditions of the unit's parts, and the steps done that other steps need."""

    conditions: tuple[str, ...]
    done: frozenset[str]


class Openings:
    """The situations that a search can come into, numbered from 0, how the unit is now."""

    def __init__(
        self,
        steps: Sequence[Any],
        needs: Mapping[str, Collection[str]],
        *,
        unit: UnitState | None,
        done: Collection[str],
        answered: Collection[str] = (),
        checks: Collection[str],
        minutes: Mapping[str, float],
    ) -> None:
        """`steps` are those that apply, in handbook order; `done` those that let others follow; `checks` the asked."""
        self.steps, self.checks, self.answered = list(steps), frozenset(checks), frozenset(answered)
        self.now = dict(unit.conditions) if unit is not None else {}
        self.parts = list(self.now)
        self._place = {part: number for number, part in enumerate(self.parts)}
        self._stands_for = self._alike()
        self.needed = {need for wanted in needs.values() for need in wanted}
        order = {step.key: number for number, step in enumerate(self.steps)}
        self._known = {step.key: self._know(step, needs, order, minutes) for step in self.steps}
        self._situations: list[Situation] = []
        self._numbers: dict[Situation, int] = {}
        self._ways: dict[tuple[int, str], Way | None] = {}
        self._closings: dict[int, float] = {}
        self._providers: dict[tuple[str, frozenset[str]], list[Any]] = {}
        start = tuple(self._stands_for[part].get(value, value) for part, value in self.now.items())
        self._number(Situation(start, frozenset(done) & self.needed))

    def way(self, at: int, check: str) -> Way | None:
        """What leads from a situation to a check that is done; None where the unit cannot be as it asks."""
        if (at, check) not in self._ways:
            self._ways[at, check] = self._find_way(at, check)
        return self._ways[at, check]

    def closing(self, at: int) -> float:
        """Minutes of closing everything that is open in a situation, with the work that has to be done before."""
        if at not in self._closings:
            self._closings[at] = self._close(at)
        return self._closings[at]

    def costs(self, at: int, way: Way) -> float:
        """Minutes of a way and what it adds to the closing, or takes off it."""
        return way.minutes + self.closing(way.ends) - self.closing(at)

    def _alike(self) -> dict[str, dict[str, str]]:
        """For each part, its conditions, with one for all those that no step and no rule here tells apart."""
        told_apart: dict[str, set[frozenset[str]]] = {part: {frozenset(PARTS[part].closed)} for part in self.parts}
        for step in self.steps:
            for part, words in (step.requires or {}).items():
                if part in told_apart:
                    told_apart[part].add(allowed_values(part, words))
        found: dict[str, dict[str, str]] = {}
        for part, groups in told_apart.items():
            first: dict[tuple[bool, ...], str] = {}
            values = (AS_IT_CAME, UNKNOWN, *PARTS[part].values)
            found[part] = {
                value: first.setdefault(tuple(value in group for group in groups), value) for value in values
            }
        return found

    def _know(
        self, step: Any, needs: Mapping[str, Collection[str]], order: Mapping[str, int], minutes: Mapping[str, float]
    ) -> _Known:
        plain = {part: value for part, value in effects(step, PLAIN[step.kind]).items() if part in self._place}
        requires = [
            (part, allowed_values(part, words)) for part, words in (step.requires or {}).items() if part in self._place
        ]
        held = sorted((need for need in needs[step.key] if need in order), key=order.__getitem__)
        closes = {part: value for part, value in plain.items() if not PARTS[part].tried}
        opened = {part for part, value in plain.items() if is_opening(part, value)} | {*(step.opens or ())}
        opened &= self._place.keys()
        only = step.kind == WORK and not any(is_opening(part, value) for part, value in closes.items())
        some = any(PARTS[part].is_closed(value) and not PARTS[part].finding for part, value in closes.items())
        return _Known(
            key=step.key,
            kind=step.kind,
            minutes=minutes.get(step.key, step.minutes),
            needs=tuple(sorted(held, key=lambda need: need not in self.answered)),
            requires=tuple(
                (part, allowed, is_danger(part, allowed))
                for part, allowed in sorted(requires, key=lambda pair: _PLACE[pair[0]])
            ),
            leaves={part: self._stands_for[part].get(value, value) for part, value in plain.items()},
            touches=frozenset(step.opens or ()) | {p for p, value in plain.items() if not PARTS[p].is_closed(value)},
            only_closes=frozenset(closes) if only and some else frozenset(),
            unseals=frozenset(part for part in opened if PARTS[part].bears or PARTS[part].chamber),
        )

    def _number(self, situation: Situation) -> int:
        number = self._numbers.setdefault(situation, len(self._situations))
        if number == len(self._situations):
            self._situations.append(situation)
        return number

    def _is_closed(self, situation: Situation, part: str) -> bool:
        return PARTS[part].is_closed(situation.conditions[self._place[part]])

    def _find_way(self, at: int, check: str) -> Way | None:
        steps: list[str] = []
        waits_for: set[str] = set()
        minutes, opens = 0.0, False
        while len(steps) < _LONGEST:
            key = self._first(check, self._situations[at], set(), waits_for, asks=True, wanted=check)
            if key is None:
                return None
            steps.append(key)
            minutes += self._known[key].minutes
            opens |= any(self._is_closed(self._situations[at], part) for part in self._known[key].unseals)
            at = self._after(at, key)
            if key == check:
                return Way(tuple(steps), minutes, at, frozenset(waits_for), opens)
        return None

    def _first(
        self, key: str, situation: Situation, seen: set[str], waits_for: set[str], *, asks: bool, wanted: str
    ) -> str | None:
        """What has to be done first before a step, if only itself; see diagnosis.runs_rules.first_before."""
        if key in seen:
            return None
        seen.add(key)
        step = self._known[key]
        for need in step.needs:
            if need in self.checks:
                waits_for.add(need)
            elif need not in situation.done and not (
                step.kind == WORK and not asks and self._closes_nothing(need, situation)
            ):
                return self._first(need, situation, seen, waits_for, asks=asks, wanted=wanted)
        for part, allowed, danger in step.requires:
            if situation.conditions[self._place[part]] in allowed:
                continue
            for provider in self._brought_about_by(part, allowed):
                found = self._first(provider.key, situation, seen, waits_for, asks=False, wanted=wanted)
                if found is not None:
                    return found
            if danger or key == wanted:  # a check that shows nothing as the unit is
                return None
        return key

    def _closes_nothing(self, key: str, situation: Situation) -> bool:
        closes = self._known[key].only_closes
        return bool(closes) and all(self._is_closed(situation, part) for part in closes)

    def _brought_about_by(self, part: str, allowed: frozenset[str]) -> list[Any]:
        if (part, allowed) not in self._providers:
            self._providers[part, allowed] = brought_about_by(part, allowed, self.steps)
        return self._providers[part, allowed]

    def _after(self, at: int, key: str) -> int:
        """The situation after a step; what it opens or leaves in doubt undoes work and proofs of those parts."""
        situation, step = self._situations[at], self._known[key]
        conditions = list(situation.conditions)
        for part, value in step.leaves.items():
            conditions[self._place[part]] = value
        done = situation.done
        if step.touches:
            opened = {part for part in step.leaves if not PARTS[part].is_closed(step.leaves[part])}
            done = frozenset(one for one in done if not self._is_undone(one, opened, step.touches))
        if key in self.needed and key not in self.checks:
            done |= {key}
        return self._number(Situation(tuple(conditions), done))

    def _is_undone(self, key: str, opened: Collection[str], touched: Collection[str]) -> bool:
        step = self._known.get(key)
        if step is None:
            return False
        if step.kind == PROOF:
            return not self._proves[key].isdisjoint(touched)
        return step.kind == WORK and any(
            part in opened and PARTS[part].is_closed(value) for part, value in step.leaves.items()
        )

    @cached_property
    def _proves(self) -> dict[str, frozenset[str]]:
        return {step.key: frozenset(step.proves or ()) for step in self.steps}

    def _close(self, at: int) -> float:
        minutes, seen = 0.0, {at}
        while True:
            key = self._first_that_closes(self._situations[at])
            if key is None:
                return minutes
            minutes += self._known[key].minutes
            at = self._after(at, key)
            if at in seen:
                return minutes
            seen.add(at)

    def _first_that_closes(self, situation: Situation) -> str | None:
        for part in self.parts:
            one = PARTS[part]
            if one.finding or one.tried or self._is_closed(situation, part):
                continue
            for closer in self._brought_about_by(part, frozenset(one.closed)):
                if closer.kind == WORK:
                    found = self._first(closer.key, situation, set(), set(), asks=False, wanted="")
                    if found is not None:
                        return found
        return None


_PLACE = {part: number for number, part in enumerate(PARTS)}


def steps_in_turn(ways: Iterable[Way]) -> tuple[str, ...]:
    """The steps of ways in turn, each where it comes first."""
    return tuple(dict.fromkeys(key for way in ways for key in way.steps))
