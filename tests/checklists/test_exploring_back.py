"""The way to ready searched backwards from it, and why the age of proofs decides nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pytest

from diagnosis.checking import as_records, check_alone
from diagnosis.exploring import _forbidden, _out_of_reach
from diagnosis.exploring_back import WayBack
from diagnosis.layout_plans import PROOF, WORK, ChecklistPlan
from diagnosis.runs_rules import needs_of
from diagnosis.state_sets import NOTHING
from diagnosis.state_space import ABSENT, PLAIN, Exploration
from diagnosis.unit_invariants import NO_WAY_BACK
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import UNDER_PRESSURE, UnitState
from tests.checklists.planted import leaves_nothing, leaves_too, planted, proves_nothing, requires_nothing
from tests.shipped import shipped_folder
from tests.state_rows import cut_short

PAIRS = (
    ("shock-loses-air", "shock-sits-low", "shock"),
    ("shock-air-can-service", "shock-loses-air", "shock"),
    ("oil-at-seals", "routine-lowers-service", "fork"),
)


def _lists(*keys: str) -> list[list[Any]]:
    return [as_records(shipped_folder().checklist(key)) for key in keys]


@pytest.mark.parametrize(("one", "other", "kind"), PAIRS)
def test_struck_out_the_ages_of_proofs_leave_the_states_of_a_pair_without_them(one: str, other: str, kind: str) -> None:
    lists = _lists(one, other)
    aged, plain = Exploration(lists, [kind]), Exploration(lists, [kind], with_proofs=False)
    assert aged.sets.count(aged.reached) > plain.sets.count(plain.reached)
    assert cut_short(plain.sets, aged.sets, aged.reached) == plain.reached


@pytest.mark.parametrize("keys", [*(pair[:2] for pair in PAIRS), ("tops-out", "loses-air")])
def test_no_answer_is_taken_or_refused_for_the_age_of_a_proof(keys: tuple[str, str]) -> None:
    lists = _lists(*keys)
    kind = "shock" if keys[0].startswith("shock") else "fork"
    aged, plain = Exploration(lists, [kind]), Exploration(lists, [kind], with_proofs=False)
    ages = set(aged.places.of_proof.values())
    assert ages
    seen = 0
    for answer in aged.answers():
        change = aged.change(answer)
        assert all(after for place in ages & change.places.keys() for after in change.places[place])
        rest = {place: one for place, one in change.places.items() if place not in ages}
        assert rest == plain.change(answer).places
        seen += 1
    assert seen > 100


def test_with_ages_counted_the_same_rules_are_broken_at_the_same_steps() -> None:
    slip = planted("shock-sits-low", {"shock-can-off": requires_nothing})
    lists = [as_records(slip), *_lists("shock-loses-air")]
    aged, plain = Exploration(lists, ["shock"]), Exploration(lists, ["shock"], with_proofs=False)
    broken = [
        [(one.rule, one.step) for judged in (_forbidden, _out_of_reach) for one in judged(at)] for at in (aged, plain)
    ]
    assert broken[0] == broken[1]
    assert (UNDER_PRESSURE, "shock-can-off") in broken[0]


def test_a_proof_that_two_lists_have_is_too_old_as_soon_as_it_is_in_one_of_them() -> None:
    own = as_records(shipped_folder().checklist("oil-at-seals"))
    other = as_records(planted("routine-lowers-service", {"prove-clicks": proves_nothing}))
    assert Exploration([own, other], ["fork"]).proves == Exploration([other, own], ["fork"]).proves
    assert "rebound_knob" in Exploration([own, other], ["fork"]).proves["prove-clicks"]


APART = (("shock-all-air-out", "done"), ("shock-out-of-frame", "done"), ("shock-can-off", "done"))
TRAPS: Mapping[str, tuple[str, Mapping[str, Any], str]] = {
    "a look after which the damper is out, and no step puts it back": (
        "sits-low", {"compare-spring-travel": leaves_too("found", damper="out")}, "compare-spring-travel"),
    "a look that loosens the stem, and no step tightens it": (
        "loses-air", {"prove-the-loss": leaves_too("cant_tell", stem="loose")}, "prove-the-loss"),
}  # fmt: skip


@pytest.mark.parametrize("trap", TRAPS)
def test_a_trap_is_found_by_name_with_the_way_into_it(trap: str) -> None:
    key, changes, step = TRAPS[trap]
    plan = planted(key, changes)
    found = check_alone(plan).explored
    broken = [one for one in found.broken if one.rule == NO_WAY_BACK]
    assert len(broken) == 1
    assert found.without_a_way > 1
    assert "no way back to ready from here" in broken[0].words
    assert broken[0].step == step
    assert broken[0].way[-1] in {(step, "found"), (step, "cant_tell")}


def test_a_list_with_no_way_at_all_is_found_as_it_came_in() -> None:
    found = check_alone(planted("shock-sits-low", {"shock-can-on": leaves_nothing})).explored
    assert [(one.rule, one.way) for one in found.broken] == [(NO_WAY_BACK, ())]
    assert found.without_a_way > 1


@pytest.mark.parametrize(("changes", "way", "is_there"), [
    ({}, (), True),
    ({}, APART, True),
    ({"shock-can-on": leaves_nothing}, APART, False),
])  # fmt: skip
def test_answer_by_answer_there_is_a_way_just_where_the_diagrams_say_so(
    changes: Mapping[str, Any], way: Sequence[tuple[str, str]], is_there: bool
) -> None:
    plan = planted("shock-air-can-service", changes)
    steps = as_records(plan)
    at = Exploration([steps], plan.complaint.suits, with_proofs=False)
    facts = next(unit.facts for unit in at.units if unit.facts.get("spring_kind") == "air")
    unit = UnitState.as_it_came(facts)
    for key, outcome in way:
        unit = unit.after(next(step for step in steps if step.key == key), outcome)
    row = {0: [[one.facts for one in at.units].index(facts)]}
    row |= {
        place: [at.places.values[part][unit.conditions.get(part, ABSENT)]] for part, place in at.places.of_part.items()
    }
    lost = at.sets.both(at.sets.product(row), WayBack(at).without_a_way())
    assert (lost == NOTHING) is is_there
    assert _ways_on(plan, facts, way) is is_there


def test_from_ready_backwards_every_state_of_a_shipped_list_is_come_to() -> None:
    for plan in shipped_folder().checklists:
        at = Exploration([as_records(plan)], plan.complaint.suits, with_proofs=False)
        back = WayBack(at)
        assert at.reached != NOTHING
        assert back.sets.without(back.comes_about, back.leads_to_ready) == NOTHING
        assert back.without_a_way() == NOTHING


def _ways_on(plan: ChecklistPlan, facts: Mapping[str, Any], way: Sequence[tuple[str, str]]) -> bool:
    """Whether plain answers lead to ready after this way, tried out one by one on a real unit, with no diagrams."""
    steps = as_records(plan)
    at = Exploration([steps], plan.complaint.suits, with_proofs=False)
    unit_seen = next(unit for unit in at.units if unit.facts == facts)
    here = [step for step, applies in zip(at.steps, unit_seen.applies, strict=True) if applies]
    by_key, needs, kept = {step.key: step for step in here}, needs_of(steps, facts), set(WayBack(at).kept)
    unit = UnitState.as_it_came(facts)
    for key, outcome in way:
        unit = unit.after(by_key[key], outcome)
    seen: set[Any] = set()
    waiting = [(tuple(sorted(unit.conditions.items())), frozenset[str](), frozenset[str]())]
    while waiting:
        now = waiting.pop()
        if now in seen:
            continue
        seen.add(now)
        conditions, fresh, done = now
        if _is_ready(here, dict(conditions), fresh, done, kept):
            return True
        waiting += _after(here, needs, kept, dict(conditions), fresh, done)
    return False


def _after(
    here: Sequence[Any], needs: Mapping[str, frozenset[str]], kept: set[str], conditions: dict[str, str],
    fresh: frozenset[str], done: frozenset[str],
) -> Iterator[Any]:  # fmt: skip
    unit = UnitState(conditions)
    for step in here:
        if not needs[step.key] & kept <= done or unit.unmet(step):
            continue
        after = unit.after(step, PLAIN[step.kind])
        stale = {proof.key for proof in here if proof.kind == PROOF and after.touched.keys() & set(proof.proves or ())}
        made = {step.key} if step.kind == PROOF else set()
        ticked = frozenset({*done, *({step.key} & kept)})
        yield tuple(sorted(after.conditions.items())), frozenset((fresh - stale) | made), ticked


def _is_ready(
    here: Sequence[Any], conditions: Mapping[str, str], fresh: frozenset[str], done: frozenset[str], kept: set[str]
) -> bool:
    closed = all(PARTS[part].is_closed(value) or PARTS[part].finding for part, value in conditions.items())
    proved = {step.key for step in here if step.kind == PROOF} <= fresh
    return closed and proved and {step.key for step in here if step.kind == WORK and step.safety} & kept <= done
