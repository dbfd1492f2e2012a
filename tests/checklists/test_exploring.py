"""Every state of the shipped checklists, and each slip that must be found by the name of the rule that it breaks."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from diagnosis import opening_order, opening_search
from diagnosis.checking import as_records, check_alone, check_pairs
from diagnosis.exploring import Broken, explore
from diagnosis.exploring_order import dearer_first
from diagnosis.fact_combinations import combinations
from diagnosis.layout import dump
from diagnosis.layout_plans import ChecklistFolder, ChecklistPlan, outcomes_of
from diagnosis.openings import Openings
from diagnosis.state_sets import NOTHING
from diagnosis.state_space import Exploration
from diagnosis.told import TOLD, Told, can_be_told
from diagnosis.unit_invariants import (
    CAUSE_OUT_OF_REACH,
    CLOSED_DRY,
    DANGERS,
    DEARER_FIRST,
    MENDED_SHUT,
    MOVED_LOOSE,
    NO_RECORD,
    NO_WAY_BACK,
    OPENED_UNSAID,
    PROOF_TOO_EARLY,
    PROOF_TOO_OLD,
    REASONS,
    breaks,
)
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import (
    FILLED_OPEN,
    GAS_CHARGED,
    TAKEN_BACK,
    UNDER_PRESSURE,
    UNPROVED_HOLD,
    UnitState,
    dangers,
    endings,
    says_done,
)
from tests.breadth import day
from tests.checklists.planted import (
    Change,
    leaves_nothing,
    leaves_too,
    needs_too,
    opens_nothing,
    opens_too,
    planted,
    proves_nothing,
    reads_nothing,
    requires_not,
    requires_nothing,
    requires_too,
    tightens_nothing,
)
from tests.in_turn import CYCLE
from tests.shipped import shipped_folder

SHORT = {"shock-knocks", "lockout-fails"}  # little is opened for what they find
KEYS = tuple(plan.key for plan in shipped_folder().checklists)


def quickly(plan: ChecklistPlan, rule: str) -> list[Broken]:
    """Where this rule is broken; the way to ready is searched from its end, the dearest part, for its own rule only."""
    backwards = rule == NO_WAY_BACK
    seen = explore([as_records(plan)], plan.complaint.suits, with_proofs=False, count_walks=False, backwards=backwards)
    return [broken for broken in seen.broken if broken.rule == rule]


@pytest.mark.parametrize("key", KEYS)
def test_no_state_of_a_shipped_checklist_breaks_a_rule(key: str) -> None:
    seen = check_alone(shipped_folder().checklist(key)).explored
    assert not seen.broken  # nor does the dearer come first
    assert seen.states > 1000
    assert seen.longest is not None
    assert seen.longest >= (3 if key in SHORT else 5)


PARTS_OF_PAIRS = 4


@pytest.mark.parametrize("part", ["of today", pytest.param("all", marks=pytest.mark.long)])
@pytest.mark.parametrize("key", KEYS[:-1])
def test_nor_does_any_of_two_checklists_worked_as_one_job(key: str, part: str) -> None:
    """A list with each that stands after it: all of a kind in one test would keep one process busy for minutes.

    A quarter of its pairs, another each time it has its turn (tests/in_turn.py); all of them, with `-m long`, take
    several minutes.
    """
    at = KEYS.index(key)
    first, *others = shipped_folder().checklists[at:]
    if part == "of today":
        others = others[(day() // CYCLE + at) % PARTS_OF_PAIRS :: PARTS_OF_PAIRS]
    pairs = [pair for other in others for pair in check_pairs([first, other])]
    kinds = set(first.complaint.suits)
    assert len(pairs) == sum(not kinds.isdisjoint(other.complaint.suits) for other in others)
    assert not [(pair.keys, broken) for pair in pairs for broken in pair.explored.broken]


REFUSED_AT_THE_BENCH = {UNDER_PRESSURE, FILLED_OPEN, GAS_CHARGED}
PLANTED: Mapping[str, tuple[str, Mapping[str, Change | None], str]] = {
    "the feet come off without the air out": ("loses-air", {"foot-fasteners-off": requires_nothing}, UNDER_PRESSURE),
    "the spring comes out without the air out": (
        "sits-low", {"air-spring-out": requires_not("positive_air", "negative_air")}, UNDER_PRESSURE),
    "a cap opened and closed in one step": ("not-full-travel", {"count-spacers": requires_nothing}, UNDER_PRESSURE),
    "a seal renewed under a cap with air": ("loses-air", {"top-cap-reseal": requires_nothing}, UNDER_PRESSURE),
    "a damper opened while its gas is in": (
        "no-rebound-control", {"open-damper-bladder": requires_not("gas_charge")}, GAS_CHARGED),
    "a damper rebuilt while its gas is in": (
        "no-rebound-control", {"rebuild-damper": requires_not("gas_charge")}, GAS_CHARGED),
    "a look into the damper's valve with the gas in": (
        "no-rebound-control", {"inspect-damper-valve": requires_nothing}, GAS_CHARGED),
    "gas charged and not read": ("no-rebound-control", {"gas-charge-in": reads_nothing}, NO_RECORD),
    "gas that is let out and never charged again": (
        "no-rebound-control", {"gas-charge-in": leaves_nothing}, NO_WAY_BACK),
    "a damper that is never said to be closed": (
        "no-rebound-control", {"rebuild-damper": leaves_nothing}, NO_WAY_BACK),
    "an air can under pressure": ("shock-sits-low", {"shock-can-off": requires_nothing}, UNDER_PRESSURE),
    "filled with the lowers off": ("tops-out", {"fill-in-stages": requires_not("lowers")}, FILLED_OPEN),
    "filled with the feet open": ("tops-out", {"fill-in-stages": requires_not("foot_fasteners")}, FILLED_OPEN),
    "a check that fills": ("sits-low", {"pressure-and-cycle": requires_nothing}, FILLED_OPEN),
    "a proof that leaves air": ("sits-low", {"prove-pressure": requires_not("lowers")}, FILLED_OPEN),
    "a shock filled with its can off": (
        "shock-loses-air", {"shock-fill-in-stages": requires_not("can")}, FILLED_OPEN),
    "a ring that nobody proved": ("tops-out", {"fill-in-stages": requires_not("retention")}, UNPROVED_HOLD),
    "feet closed dry": ("routine-lowers-service", {"foot-fasteners-on": requires_not("oil")}, CLOSED_DRY),
    "feet called tight while they are off": (
        "knocks-or-play", {"check-foot-fasteners": requires_not("oil")}, CLOSED_DRY),
    "pressure proved before the hold": ("sits-low", {"prove-pressure": requires_not("retention")}, PROOF_TOO_EARLY),
    "the brake proved with the wheel out": ("oil-at-seals", {"prove-brakes": requires_nothing}, PROOF_TOO_EARLY),
    "a proof of nothing": ("loses-air", {"prove-pressure": proves_nothing}, PROOF_TOO_OLD),
    "clicks proved of nothing": (
        "no-rebound-control", {"prove-clicks": proves_nothing, "test-ride": proves_nothing}, PROOF_TOO_OLD),
    "a proof retired": ("shock-air-can-service", {"prove-pressure": None, "shock-prove-rest": None,
                        "shock-prove-sag": None, "shock-test-ride": None}, PROOF_TOO_OLD),
    "a knob that is never said to be on": ("loses-air", {"knob-on": leaves_nothing}, NO_WAY_BACK),
    "lowers that are never said to be on": ("tops-out", {"lowers-on": leaves_nothing}, NO_WAY_BACK),
    "filling that leaves nothing": ("sits-low", {"fill-in-stages": leaves_nothing}, NO_WAY_BACK),
    "the only step that lets the air out is gone": ("tops-out", {"all-air-out": None}, NO_WAY_BACK),
    "the only step that proves the ring is gone": ("tops-out", {"prove-circlip-seat": None}, NO_WAY_BACK),
    "two steps that undo each other for ever": (
        "loses-air",
        {"refit-brake-wheel": leaves_too("done", rebound_knob="removed"), "knob-on": leaves_too("done", wheel="out")},
        NO_WAY_BACK),
    "swapped: the lowers before the proof that wants them off": (
        "harsh-or-sticky", {"prove-circlip-seat": needs_too("lowers-on"), "lowers-on": requires_nothing}, NO_WAY_BACK),
    "two proofs that open what the other proves": (
        "oil-at-seals", {"prove-clicks": opens_too("oil"), "prove-dry": opens_too("rebound_knob"),
                         "test-ride": proves_nothing}, NO_WAY_BACK),
    "a need that can never be met": (
        "sits-low", {"foam-rings": requires_too(spring="out", positive_air="charged")}, NO_WAY_BACK),
    "a cap opened on the way and nobody told": ("loses-air", {"top-cap-reseal": opens_nothing}, MENDED_SHUT),
    "an axle undone and nobody told": ("knocks-or-play", {"check-axle": opens_nothing}, OPENED_UNSAID),
    "bolts without a record": ("routine-lowers-service", {"refit-brake-wheel": tightens_nothing}, NO_RECORD),
    "a shock's bolts without their torque": ("shock-loses-air", {"shock-refit": reads_nothing}, NO_RECORD),
    "bounced with the caliper off": ("harsh-or-sticky", {"free-the-axle": requires_not("caliper")}, MOVED_LOOSE),
    "pushed with the wheel out": ("not-full-travel", {"open-compression": requires_not("wheel", "axle")}, MOVED_LOOSE),
    "ridden on an untried brake": ("routine-lowers-service", {"test-ride": requires_not("brakes")}, MOVED_LOOSE),
    "ridden with the stem loose": ("tops-out", {"prove-quiet-top": requires_not("stem")}, MOVED_LOOSE),
    "a shock pushed while it is out": ("shock-sits-low", {"shock-prove-rest": requires_not("shock")}, MOVED_LOOSE),
    "ridden on a coil whose cap may be loose": (
        "sits-low", {"prove-sag": requires_not("preload")}, MOVED_LOOSE),
    "a coil's collar undone and nobody told": ("shock-sits-low", {"shock-coil-check": opens_nothing}, OPENED_UNSAID),
    "a check for which the unit is never right": (
        "sits-low", {"compare-spring-travel": requires_too(damper="out")}, CAUSE_OUT_OF_REACH),
}  # fmt: skip


@pytest.mark.parametrize("slip", PLANTED)
def test_a_planted_slip_is_found_by_name_with_a_way_that_leads_there(slip: str) -> None:
    key, changes, rule = PLANTED[slip]
    plan = planted(key, changes)
    found = quickly(plan, rule)
    assert found, slip
    steps = {step.key: step for step in plan.steps}
    for broken in found:
        told = bool(broken.way) and broken.way[-1][1] == TOLD
        assert broken.step in steps or (rule == NO_WAY_BACK and (told or not broken.way))
        assert all(
            outcome in (*outcomes_of(steps[key].kind, steps[key].answers), TAKEN_BACK)
            for key, outcome in broken.way
            if outcome != TOLD
        )
    if rule in REFUSED_AT_THE_BENCH:
        assert_it_can_be_walked_and_ends_in_the_danger(plan, found[0])


def assert_it_can_be_walked_and_ends_in_the_danger(plan: ChecklistPlan, broken: Broken) -> None:
    """Tick for tick by the rules of the real bench, as far as the file knows: nothing is refused before the end."""
    steps = {step.key: step for step in as_records(plan)}
    unit = UnitState.as_it_came(broken.facts)
    for key, outcome in broken.way[:-1]:
        part, _, value = key.partition("=")
        step: Any = Told(part, value) if outcome == TOLD else steps[key]
        assert not says_done(step, outcome) or not any(unmet.is_danger for unmet in unit.unmet(step))
        unit = unit.after(step, outcome)
    last, outcome = broken.way[-1]
    assert broken.rule in {danger.rule for danger in dangers(unit, steps[last], outcome)}


def test_an_order_that_puts_the_dearer_first_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The handbook's order instead of the best one: not every list stands in the order of chance for each minute."""
    key = "sits-low"
    assert not [one for one in check_order(key) if one.rule == DEARER_FIRST]
    monkeypatch.setattr(opening_search, "best_lawful_order", opening_order.lawful_handbook_order)
    found = [one for one in check_order(key) if one.rule == DEARER_FIRST]
    assert found
    assert "would save" in found[0].words


def test_an_order_that_opens_the_unit_before_what_is_harmless_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing holds it back the search takes the lowers off before the wipers are freed."""
    monkeypatch.setattr(opening_search._Table, "harmless", lambda table, at: 0 * table.waits[at])
    monkeypatch.setattr(opening_order, "is_harmless_first", lambda *_: True)
    without = check_plans("sits-low")
    monkeypatch.undo()
    monkeypatch.setattr(opening_search, "best_lawful_order", lambda asked, openings: without[_named(asked, openings)])
    found = [one for one in check_order("sits-low") if one.rule == DEARER_FIRST]
    assert any("harmless" in one.words for one in found)


def _named(asked: opening_order.Asked, openings: Openings) -> tuple[str, ...]:
    return (*asked.checks, *(step.key for step in openings.steps))


def check_plans(key: str) -> dict[tuple[str, ...], opening_order.Ordered]:
    """The best order on each kind of unit, by the checks that are asked and the steps that apply."""
    found: dict[tuple[str, ...], opening_order.Ordered] = {}
    best = opening_search.best_lawful_order

    def kept(asked: opening_order.Asked, openings: Openings) -> opening_order.Ordered:
        return found.setdefault(_named(asked, openings), best(asked, openings))

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(opening_search, "best_lawful_order", kept)
        check_order(key)
    return found


def check_order(key: str) -> list[Broken]:
    plan = shipped_folder().checklist(key)
    records = as_records(plan)
    return list(dearer_first(plan, records, combinations(records, plan.complaint.suits)))


def test_at_least_twenty_slips_are_planted_and_every_rule_has_a_reason() -> None:
    assert len(PLANTED) >= 20
    assert {rule for _, _, rule in PLANTED.values()} <= REASONS.keys()
    assert REASONS.keys() >= DANGERS


def told_of(steps: list[Any], unit: UnitState, chance: random.Random) -> Any:
    """Something that somebody says of the unit, whatever was ticked."""
    every = [Told(part, value) for part, values in can_be_told(steps).items() for value in values]
    return chance.choice([told for told in every if told.part in unit.conditions])


@pytest.mark.parametrize("key", ["loses-air", "tops-out", "no-rebound-control", "shock-sits-low"])
def test_no_mechanic_however_obstinate_comes_into_a_state_that_was_not_explored(key: str) -> None:
    """A thousand random ticks on real units, nothing but dangers refused, each state looked up among those seen."""
    plan = shipped_folder().checklist(key)
    records = as_records(plan)
    at = Exploration([records], plan.complaint.suits)
    chance, looked_up = random.Random(key), 0
    for number, facts_seen in enumerate(at.units):
        unit, fresh = UnitState.as_it_came(facts_seen.facts), {proof.key: 0 for proof in at.proofs}
        steps = [step for step, here in zip(at.steps, facts_seen.applies, strict=True) if here]
        for _ in range(1000 // len(at.units)):
            step = told_of(steps, unit, chance) if chance.random() < 0.1 else chance.choice(steps)
            given = unit.answered.get(step.key, (0, TAKEN_BACK))[1]
            ways = [TOLD] if step.kind == TOLD else [*endings(step), *([TAKEN_BACK] if given != TAKEN_BACK else [])]
            outcome = chance.choice(ways)
            if outcome != TOLD and says_done(step, outcome):
                if any(unmet.is_danger for unmet in unit.unmet(step)):
                    continue
                assert not dangers(unit, step, outcome)
            unit = unit.after(step, outcome)
            fresh = {
                proof.key: int(unit.answered.get(proof.key, (0, ""))[1] == "proved" and unit.still_stands(proof))
                for proof in at.proofs
            }
            row = {0: [number]}
            for part, place in at.places.of_part.items():
                row[place] = [at.places.values[part][unit.conditions.get(part, "")]]
            for proof in at.proofs:
                row[at.places.of_proof[proof.key]] = [fresh[proof.key] if number in at.units_of(proof) else 2]
            assert at.sets.both(at.reached, at.sets.product(row)) != NOTHING
            looked_up += 1
    assert looked_up > 400


def test_the_bench_and_the_rules_call_the_same_dangerous() -> None:
    """The refusals at the tick and the rules of the exploration, on random conditions of every shipped step."""
    chance, agreed = random.Random(4), 0
    bench = {UNDER_PRESSURE, FILLED_OPEN, UNPROVED_HOLD, GAS_CHARGED}
    for plan in shipped_folder().checklists:
        for step in as_records(plan):
            for _ in range(20):
                unit = UnitState(
                    {key: chance.choice(["as_it_came", "unknown", *part.values]) for key, part in PARTS.items()}
                )
                for outcome in outcomes_of(step.kind, step.answers):
                    said = {one.rule for one in breaks(unit.conditions, step, outcome)} & bench
                    refused = dangers(unit, step, outcome) if says_done(step, outcome) else []
                    assert said == {danger.rule for danger in refused}
                    agreed += bool(said)
    assert agreed > 500


def test_the_command_prints_a_line_for_each_list_and_ends_well() -> None:
    out = StringIO()
    call_command("check_checklists", "shock-loses-air", "shock-sits-low", stdout=out)
    said = out.getvalue().splitlines()
    assert [line.split()[0] for line in said[1:3]] == ["shock-loses-air", "shock-sits-low"]
    assert "shock-loses-air + shock-sits-low" in said[3]
    assert all(line.rstrip().endswith(" 0") for line in said[1:4])


def test_the_command_says_where_a_rule_is_broken_and_fails(tmp_path: Path) -> None:
    folder = shipped_folder()
    slip = planted("shock-loses-air", {"shock-can-off": requires_nothing})
    # A shared step could not be changed in one list alone, so the steps are the list's own here.
    slip = replace(slip, steps=tuple(replace(step, shared=False) for step in slip.steps))
    for name, text in dump(ChecklistFolder(folder.cautions, (), (slip,))).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    out = StringIO()
    with pytest.raises(CommandError, match="violation"):
        call_command("check_checklists", folder=tmp_path, stdout=out)
    said = out.getvalue()
    assert UNDER_PRESSURE in said
    assert "1. “" in said


def test_the_command_knows_no_other_list() -> None:
    with pytest.raises(CommandError, match="no checklist 'nothing'"):
        call_command("check_checklists", "nothing")
