"""An obstinate mechanic answers as he likes, leaves waits early, takes answers back and says it is otherwise.

Then he follows what is suggested: it ends, in ready, whatever came before. By the rules of the bench, ticks and all.
"""

from __future__ import annotations

import random
from typing import Any

import pytest

from diagnosis.checking import as_records
from diagnosis.fact_combinations import combinations
from diagnosis.layout import applies
from diagnosis.runs_rules import (
    RunStep,
    counts_as,
    first_before,
    missing_needs,
    missing_proof,
    needs_of,
    next_step,
    standing,
)
from diagnosis.state_space import PLAIN
from diagnosis.told import TOLD, Told, can_be_told
from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import LEFT_EARLY, TAKEN_BACK, UnitState, dangers, endings, says_done
from tests.known import known
from tests.shipped import shipped_folder

STUCK, LEAKING, CREAKING, SHOCK = "sits-low", "oil-at-seals", "knocks-or-play", "shock-loses-air"
PRESSES, LONGEST = 80, 250


class Bench:
    """A run of one list on one unit: the ticks that count and the state of the unit."""

    def __init__(self, key: str, chance: random.Random) -> None:
        plan = shipped_folder().checklist(key)
        every = as_records(plan)
        self.facts = chance.choice(combinations(every, plan.complaint.suits)).facts
        self.needs = needs_of(every, self.facts)
        self.steps = [step for step in every if applies(step, self.facts) != "no"]
        self.unit, self.given, self.seen = UnitState.as_it_came(self.facts), dict[str, str](), set[str]()

    def takes(self, step: Any, outcome: str) -> bool:
        """Whether the bench takes the answer, as diagnosis.runs_judging does."""
        if missing_needs(step.key, self.steps, self.needs, self.given, self.unit):
            return False
        unsafe = any(unmet.is_danger for unmet in self.unit.unmet(step)) or dangers(self.unit, step, outcome)
        return not (says_done(step, outcome) and unsafe)

    def tick(self, step: Any, outcome: str) -> None:
        self.seen.add(outcome)
        self.unit = self.unit.after(step, outcome)
        self.given.pop(getattr(step, "key", ""), None)
        if outcome not in (TAKEN_BACK, TOLD):
            self.given[step.key] = counts_as(step, outcome, "", names_cause=False)

    def press_anything(self, chance: random.Random) -> None:
        if chance.random() < 0.15:
            told = [(part, value) for part, values in can_be_told(self.steps).items() for value in values]
            part, value = chance.choice([one for one in told if one[0] in self.unit.conditions])
            word: Any = Told(part, value)
            return self.tick(word, TOLD)
        given = [step for step in self.steps if step.key in self.given]
        free = [step for step in given if not any(step.key in self.needs[key] for key in self.given)]
        if free and chance.random() < 0.1:
            return self.tick(chance.choice(free), TAKEN_BACK)
        taken = [(step, end) for step in self.steps for end in endings(step) if self.takes(step, end)]
        fresh = [one for one in taken if one[0].key not in self.given]
        return self.tick(*chance.choice(fresh if fresh and chance.random() < 0.7 else taken))

    def follow(self) -> int:
        """Do what is suggested, plainly, until nothing is, and what ready still names. The number of ticks."""
        by_key = {step.key: step for step in self.steps}
        goal: RunStep | None = None
        for number in range(LONGEST):
            now = standing(self.steps, self.given, self.unit)
            coming = next_step(self.steps, self.facts, now, needs=self.needs, unit=self.unit)
            named = [goal] if goal and goal.key not in now else []
            named = named or (missing_proof(self.steps, now, self.needs) if coming is None else [])
            if coming is None and not named:
                return number
            # A safety step that was left out is suggested no more: ready names it, with the way there.
            goal = named[0] if named else None
            if goal is not None and self.given.get(goal.key) == "left_out":
                del self.given[goal.key]
                now = standing(self.steps, self.given, self.unit)
            first = first_before(named[0], self.steps, self.needs, now, self.unit) if named else None
            step = by_key[known(first).step.key if named else known(coming).key]
            assert self.takes(step, PLAIN[step.kind]), f"{step.key} is suggested and refused"
            self.tick(step, PLAIN[step.kind])
        raise AssertionError("what is suggested goes on for ever")

    @property
    def open_parts(self) -> list[str]:
        """What may not leave the bench; a fault that no step mends, or whose mending he left out, he answers for."""
        return [part for part in self.unit.open_parts if not PARTS[part].finding or self._is_to_be_mended(part)]

    def _is_to_be_mended(self, part: str) -> bool:
        mending = brought_about_by(part, PARTS[part].closed, self.steps)
        return bool(mending) and all(self.given.get(step.key) != "left_out" for step in mending)


@pytest.mark.parametrize("key", [STUCK, LEAKING, CREAKING, SHOCK])
def test_whatever_he_pressed_the_suggestions_lead_to_ready(key: str) -> None:
    chance, seen = random.Random(key), set[str]()
    for _ in range(24):
        bench = Bench(key, chance)
        for _ in range(PRESSES):
            bench.press_anything(chance)
        bench.follow()
        assert not bench.open_parts
        now = standing(bench.steps, bench.given, bench.unit)
        assert not missing_proof(bench.steps, now, bench.needs)
        seen |= bench.seen
    assert {TOLD, TAKEN_BACK, "done", "found", "cant_tell", "left_out", "proved"} <= seen
    assert LEFT_EARLY in seen


@pytest.mark.parametrize("key", [STUCK, LEAKING, CREAKING, SHOCK])
def test_who_follows_the_suggestions_from_the_start_comes_to_ready_in_fewer_ticks_than_steps_twice(key: str) -> None:
    bench = Bench(key, random.Random(key))
    assert bench.follow() <= 2 * len(bench.steps)
    assert not bench.open_parts
