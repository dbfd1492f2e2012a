"""Checklists judged by going through everything that can happen, each alone and in pairs worked as one job. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from types import SimpleNamespace
from typing import Any

from diagnosis.comparing import OUTCOME_WORDS
from diagnosis.exploring import Broken, Explored, explore
from diagnosis.exploring_order import dearer_first
from diagnosis.fact_combinations import combinations as combinations_of
from diagnosis.layout_facts import facts_in_words
from diagnosis.layout_plans import ChecklistPlan
from diagnosis.layout_writing import step_data
from diagnosis.state_sets import TooManyStates
from diagnosis.told import TOLD
from diagnosis.unit_invariants import REASONS, TOO_MUCH
from diagnosis.unit_parts import condition_words

ANSWER_WORDS: Mapping[str, str] = {**OUTCOME_WORDS, "taken_back": "taken back"}


@dataclass(frozen=True)
class Checked:
    """One checklist, or two worked as one job, by their keys, and what was seen."""

    keys: tuple[str, ...]
    explored: Explored


def as_records(plan: ChecklistPlan) -> list[Any]:
    """The steps with plain data in their fields, as records have them."""
    return [SimpleNamespace(**step_data(step)) for step in plan.steps]


def check_alone(plan: ChecklistPlan) -> Checked:
    """One checklist, the age of proofs counted among its states, the longest of the shortest walks, and its order."""
    records = as_records(plan)
    found = explore([records], plan.complaint.suits)
    found.broken += dearer_first(plan, records, combinations_of(records, plan.complaint.suits))
    return Checked((plan.key,), found)


def broken_rules(plan: ChecklistPlan) -> tuple[Broken, ...]:
    """The rules that a checklist breaks by itself; asked again of the same steps, it is not gone through again."""
    return _broken_rules(json.dumps([step_data(step) for step in plan.steps], sort_keys=False), plan.complaint.suits)


@lru_cache(maxsize=32)
def _broken_rules(steps: str, kinds: tuple[str, ...]) -> tuple[Broken, ...]:
    records = [SimpleNamespace(**step) for step in json.loads(steps)]
    try:
        return tuple(explore([records], kinds, with_proofs=False, count_walks=False, backwards=False).broken)
    except TooManyStates:
        return (Broken(TOO_MUCH, "its steps change more parts in more ways than can be tried", "", {}),)


def check_pairs(plans: Sequence[ChecklistPlan], *, backwards: bool = False) -> Iterator[Checked]:
    """Every two checklists for the same kind of unit as one job: a unit is in one state, whoever's step left it so.

    The way to ready is walked from every state; `backwards` searches it from ready as well, which takes minutes.
    """
    for one, other in combinations(plans, 2):
        kinds = [kind for kind in one.complaint.suits if kind in other.complaint.suits]
        if kinds:
            lists = [as_records(one), as_records(other)]
            found = explore(lists, kinds, with_proofs=False, count_walks=False, backwards=backwards)
            yield Checked((one.key, other.key), found)


def answers_in_words(broken: Broken, titles: Mapping[str, str]) -> list[str]:
    """The way to what is broken, an answer a line, such as “Wheel out”: done."""
    return [
        f"Somebody says: {condition_words(key).words}"
        if outcome == TOLD
        else f"“{titles.get(key, key)}”: {ANSWER_WORDS[outcome]}"
        for key, outcome in broken.way
    ]


def unit_in_words(broken: Broken) -> str:
    """The unit on which it happens, such as “If it is a fork and it has an air spring”."""
    return facts_in_words(broken.facts)


def broken_in_words(broken: Broken, titles: Mapping[str, str]) -> str:
    """What is broken as one sentence, with its reason."""
    where = f" at “{titles.get(broken.step, broken.step)}”" if broken.step else ""
    return f"{broken.rule}. Broken{where}: {broken.words}. {REASONS[broken.rule]}"
