"""Suggestions followed from states drawn evenly from all that were explored: each walk ends, and ends in ready.

A mechanic who did as he liked asks the bench what comes next. Nothing counts as answered; what is suggested is done,
ruled out and proved.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

import pytest

from diagnosis.checking import as_records
from diagnosis.runs_rules import missing_proof, needs_of, next_step, standing
from diagnosis.state_space import ABSENT, PLAIN, Exploration
from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import UnitState, dangers
from tests.shipped import shipped_folder
from tests.state_rows import drawn_from

KEYS = tuple(plan.key for plan in shipped_folder().checklists)
LONGEST = 200


def explored(key: str) -> Exploration:
    plan = shipped_folder().checklist(key)
    return Exploration([as_records(plan)], plan.complaint.suits, with_proofs=False)


def drawn(at: Exploration, chance: random.Random) -> tuple[Mapping[str, Any], UnitState]:
    """The facts and the conditions of one of the states reached, each as likely as any other."""
    row = drawn_from(at.sets, at.reached, chance.random)
    facts = at.units[row[0]].facts
    conditions = dict(UnitState.as_it_came(facts).conditions)
    for part, place in at.places.of_part.items():
        if part in conditions:
            alike = [
                value for value, number in at.places.values[part].items() if number == row[place] and value != ABSENT
            ]
            conditions[part] = chance.choice(alike)
    return facts, UnitState(conditions)


def followed(steps: list[Any], facts: Mapping[str, Any], unit: UnitState) -> list[str]:
    """What is wrong where the suggestions end, or on the way there; nothing if all is well."""
    needs, by_key = needs_of(steps, facts), {step.key: step for step in steps}
    given: dict[str, str] = {}
    walk: list[str] = []
    while (coming := next_step(steps, facts, standing(steps, given, unit), needs=needs, unit=unit)) is not None:
        step, outcome = by_key[coming.key], PLAIN[by_key[coming.key].kind]
        walk.append(step.key)
        said = [unmet.words for unmet in unit.unmet(step) if unmet.is_danger]
        said += [danger.words for danger in dangers(unit, step, outcome)]
        if said or len(walk) > LONGEST:
            return [*walk, f"refused: {said}" if said else "never ends"]
        given.pop(step.key, None)
        given[step.key] = outcome
        unit = unit.after(step, outcome)
    left = [
        part for part in unit.open_parts if not PARTS[part].finding or brought_about_by(part, PARTS[part].closed, steps)
    ]
    left += [step.key for step in missing_proof(steps, standing(steps, given, unit), needs)]
    return [*walk, f"left open or unproved: {left}"] if left else []


def from_anywhere(key: str, seed: int, walks: int) -> None:
    at, chance = explored(key), random.Random(seed)
    for _ in range(walks):
        facts, unit = drawn(at, chance)
        number = next(number for number, one in enumerate(at.units) if one.facts == facts)
        steps = [step for step, here in zip(at.steps, at.units[number].applies, strict=True) if here]
        wrong = followed(steps, facts, unit)
        opened = {part: value for part, value in unit.conditions.items() if unit.is_open(part)}
        assert not wrong, f"{dict(facts)}\n{opened}\n{' > '.join(wrong)}"


@pytest.mark.parametrize("key", KEYS)
def test_from_any_state_the_suggestions_lead_to_ready(key: str) -> None:
    from_anywhere(key, 1, 12)


@pytest.mark.long
@pytest.mark.parametrize("key", KEYS)
def test_from_many_more_states_they_do_too(key: str) -> None:
    from_anywhere(key, 2, 200)


def test_a_state_is_drawn_from_those_reached_and_not_always_the_same() -> None:
    at, chance = explored("shock-sits-low"), random.Random(5)
    rows = {drawn_from(at.sets, at.reached, chance.random) for _ in range(60)}
    assert len(rows) > 30
    assert all(at.sets.both(at.reached, at.sets.product({p: [v] for p, v in enumerate(row)})) for row in rows)
