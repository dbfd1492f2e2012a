"""Every shipped checklist walked by its suggestions alone, on every kind of unit: no danger, nothing left open."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import pytest

from diagnosis.layout import applies
from diagnosis.layout_plans import ChecklistPlan, StepPlan
from diagnosis.runs_rules import can_end_search
from diagnosis.unit_state import FILLED_OPEN, UNDER_PRESSURE, UNPROVED_HOLD
from tests.checklist_walks import (
    NEVER_ENDS,
    OPEN_AT_THE_END,
    PROOF_TOO_OLD,
    REFUSED,
    UNITS,
    Walked,
    as_steps,
    ends_of,
    walks_of,
)
from tests.openings import Changes, answers_of, openings_of
from tests.shipped import shipped_folder

KEYS = tuple(plan.key for plan in shipped_folder().checklists)
SEARCHES = {plan.key for plan in shipped_folder().checklists if any(can_end_search(step) for step in as_steps(plan))}
# So that a list which ends at once is not taken for a good one.
FEWEST_WALKS = {"sits-low": 400, "tops-out": 400}
SELDOM_OPENED = {"lockout-fails", "shock-leaks-oil", "steering-creaks"}  # what is inside is a service of its own
CIRCLIP = "air fork, circlip, bolts, bleed buttons"
WIRE = "air fork, wire ring, nuts, no buttons"


def walked(plan: ChecklistPlan, *, knows_state: bool = True, deep: bool = False) -> Iterator[tuple[str, Walked]]:
    steps = as_steps(plan)
    for name, facts in UNITS.items():
        if facts["kind"] in plan.complaint.suits:
            yield name, walks_of(steps, facts, knows_state=knows_state, deep=deep)


@dataclass
class Opened:
    """What the walks of a checklist open and close, and what of it served nothing."""

    openings: int = 0
    closings: int = 0
    needless: list[str] = field(default_factory=list)
    known: dict[str, Changes] = field(default_factory=dict)

    def count(self, walk: tuple[str, ...], steps: list[Any], name: str) -> None:
        answers = answers_of(walk)
        found = openings_of(answers, steps, UNITS[name], self.known.setdefault(name, {}))
        self.openings += len(found)
        self.closings += len({place for one in found for place in one.closed.values()})
        self.needless += [f"{name}: {answers[one.place][0]} in {answers}" for one in found if not one.serves]


def in_words(name: str, found: Walked) -> str:
    return "\n".join(f"{name}: {one.rule}: {one.words}\n  {' > '.join(one.walk)}" for one in found.violations)


@pytest.mark.parametrize("key", KEYS)
def test_no_walk_by_suggestions_ends_in_danger_or_open_or_opens_anything_for_nothing(key: str) -> None:
    plan = shipped_folder().checklist(key)
    said, walks, opened = [], 0, Opened()
    for name, facts in UNITS.items():
        if facts["kind"] not in plan.complaint.suits:
            continue
        kept = [step for step in as_steps(plan) if applies(step, facts) != "no"]
        found = walks_of(as_steps(plan), facts, seen=partial(opened.count, steps=kept, name=name))
        walks += found.walks
        said += [in_words(name, found)] if found.bad_walks else []
        assert found.walks >= 12, name
    print(f"{key}: {walks} walks, {len(said)} kinds of unit with violations")
    print(f"{opened.openings} openings, {opened.closings} closings, {len(opened.needless)} for nothing")
    assert not said, "\n".join(said)
    assert walks >= FEWEST_WALKS.get(key, 0)
    if key in SEARCHES:
        assert not opened.needless, "\n".join(opened.needless[:3])
        assert opened.openings > walks or key in SELDOM_OPENED


@pytest.mark.long
@pytest.mark.parametrize("key", KEYS)
def test_nor_does_one_with_an_answer_that_cannot_tell_and_a_second_finding(key: str) -> None:
    said = []
    for name, found in walked(shipped_folder().checklist(key), deep=True):
        print(f"{key}, {name}: {found.walks} walks, the longest {found.longest} ticks, {found.bad_walks} bad")
        said += [in_words(name, found)] if found.bad_walks else []
    assert not said, "\n".join(said)


def test_without_the_state_the_same_lists_open_what_is_under_pressure() -> None:
    """The rules as they were: answers alone, whatever was filled or opened since."""
    ((_, found), *_) = walked(shipped_folder().checklist("loses-air"), knows_state=False)
    assert found.by_rule[UNDER_PRESSURE] > 10
    plan = without(shipped_folder().checklist("tops-out"), "loaded-chamber")  # asked of every unit without the state
    ((_, found), *_) = walked(changed(plan, "damper-check", lets_the_air_out), knows_state=False)  # as it did once
    assert found.by_rule[OPEN_AT_THE_END] > 10
    assert found.by_rule[PROOF_TOO_OLD] > 10


def test_the_air_comes_out_again_before_the_feet_after_the_cap_was_sealed_and_filled() -> None:
    """Air out, new seal under the top cap, filled in stages, the pressure does not hold: on to the strip-down."""
    steps = as_steps(shipped_folder().checklist("loses-air"))

    seen = 0
    for at in ends_of(steps, UNITS[CIRCLIP], True, False):
        order = [entry.split(":")[0] for entry in at.walk]
        if "top-cap-reseal" not in order or "fill-in-stages" not in order or "foot-fasteners-off" not in order:
            continue
        filled, feet = order.index("fill-in-stages"), order.index("foot-fasteners-off")
        if order.index("top-cap-reseal") < filled < feet:
            seen += 1
            assert "all-air-out" in order[filled:feet], at.walk
    assert seen > 3


def changed(plan: ChecklistPlan, key: str, change: Callable[[StepPlan], StepPlan]) -> ChecklistPlan:
    assert any(step.key == key for step in plan.steps)
    return replace(plan, steps=tuple(change(step) if step.key == key else step for step in plan.steps))


def moved(plan: ChecklistPlan, key: str, before: str) -> ChecklistPlan:
    step = plan.step(key)
    rest = [one for one in plan.steps if one.key != key]
    place = [one.key for one in rest].index(before)
    return replace(plan, steps=(*rest[:place], step, *rest[place:]))


def without(plan: ChecklistPlan, key: str) -> ChecklistPlan:
    assert any(step.key == key for step in plan.steps)
    kept = [step for step in plan.steps if step.key != key]
    return replace(plan, steps=tuple(replace(one, needs=tuple(n for n in one.needs if n != key)) for one in kept))


def leaves_nothing(step: StepPlan) -> StepPlan:
    return replace(step, answers={given: replace(answer, leaves={}) for given, answer in step.answers.items()})


def requires_nothing(step: StepPlan) -> StepPlan:
    return replace(step, requires={})


def lets_the_air_out(step: StepPlan) -> StepPlan:
    left = {"positive_air": "empty", "negative_air": "empty"}
    return replace(step, answers={given: replace(answer, leaves=left) for given, answer in step.answers.items()})


def requires_and_needs_nothing(step: StepPlan) -> StepPlan:
    return replace(step, requires={}, needs=())


def proves_nothing(step: StepPlan) -> StepPlan:
    return replace(step, proves=())


def broken_rules(plan: ChecklistPlan, unit: str = CIRCLIP) -> set[str]:
    return set(walks_of(as_steps(plan), UNITS[unit]).by_rule)


def breaks(plan: ChecklistPlan, rule: str) -> bool:
    """Whether any walk breaks this rule, as soon as one does: a list without an end has very many long ones."""
    return any(rule in dict(at.broken) for at in ends_of(as_steps(plan), UNITS[CIRCLIP], True, False))


class TestPlantedErrors:
    """Each is a slip that an editor of a checklist could make; the walks must show it."""

    def plan(self, key: str = "loses-air") -> ChecklistPlan:
        return shipped_folder().checklist(key)

    def test_the_plain_list_breaks_nothing(self) -> None:
        assert not broken_rules(self.plan())

    def test_a_requirement_removed_from_what_opens_the_feet(self) -> None:
        assert UNDER_PRESSURE in broken_rules(changed(self.plan(), "foot-fasteners-off", requires_nothing))

    def test_a_requirement_removed_from_a_cap_that_is_opened_and_closed_in_one_step(self) -> None:
        plan = changed(self.plan("not-full-travel"), "count-spacers", requires_and_needs_nothing)
        plan = moved(plan, "count-spacers", "all-air-out")
        assert UNDER_PRESSURE in broken_rules(plan)

    def test_filling_that_asks_for_nothing_and_stands_before_the_lowers_are_on(self) -> None:
        plan = moved(changed(self.plan("tops-out"), "fill-in-stages", requires_nothing), "fill-in-stages", "lowers-on")
        assert FILLED_OPEN in broken_rules(plan)

    def test_a_hold_that_nobody_proves(self) -> None:
        plan = without(self.plan("tops-out"), "prove-circlip-seat")
        assert broken_rules(plan) & {REFUSED, OPEN_AT_THE_END, UNPROVED_HOLD}
        listed = without(plan, "loaded-chamber").steps  # asked of every unit without what it requires
        bare = replace(plan, steps=tuple(requires_nothing(step) for step in listed))
        assert UNPROVED_HOLD in broken_rules(bare)

    def test_a_wire_ring_that_nobody_proves(self) -> None:
        assert OPEN_AT_THE_END in broken_rules(without(self.plan("tops-out"), "prove-retention"), WIRE)

    def test_a_proof_that_says_nothing_of_what_it_proves(self) -> None:
        assert PROOF_TOO_OLD in broken_rules(changed(self.plan(), "prove-pressure", proves_nothing))

    def test_a_proof_too_early_whose_age_nobody_asks(self) -> None:
        plan = changed(self.plan("tops-out"), "prove-brakes", lambda step: replace(proves_nothing(step), requires={}))
        assert PROOF_TOO_OLD in broken_rules(moved(plan, "prove-brakes", "wheel-out"))

    def test_a_step_that_closes_and_does_not_say_so(self) -> None:
        assert OPEN_AT_THE_END in broken_rules(changed(self.plan(), "knob-on", leaves_nothing))

    def test_the_only_step_that_lets_the_air_out_is_retired(self) -> None:
        assert broken_rules(without(self.plan(), "all-air-out"))

    def test_two_steps_that_undo_each_other_for_ever(self) -> None:
        def leaves_too(part: str, value: str) -> Callable[[StepPlan], StepPlan]:
            def change(step: StepPlan) -> StepPlan:
                done = step.answers["done"]
                return replace(step, answers={"done": replace(done, leaves={**done.leaves, part: value})})

            return change

        plan = changed(self.plan(), "refit-brake-wheel", leaves_too("rebound_knob", "removed"))
        assert breaks(changed(plan, "knob-on", leaves_too("wheel", "out")), NEVER_ENDS)

    def test_the_oil_forgotten_before_the_feet_are_closed(self) -> None:
        plan = changed(without(self.plan(), "oil-in-legs"), "foot-fasteners-on", requires_nothing)
        assert broken_rules(plan) & {OPEN_AT_THE_END, REFUSED, NEVER_ENDS}
