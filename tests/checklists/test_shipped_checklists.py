"""The checklists that ship: they load, every cause can be found, and they read well at arm's length."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from diagnosis.layout import ChecklistPlan, StepPlan, lines_for, steps_for
from diagnosis.layout_facts import Facts
from diagnosis.layout_plans import BOLTS
from diagnosis.ordering import SearchStep, best_order
from specs.facts import FACTS
from tests.checklists.on_a_unit import causes_for, needs_for
from tests.shipped import shipped_folder

FOLDER = Path(__file__).parents[2] / "fixtures" / "checklists"
SHIPPED = shipped_folder()
STEPS = {step.key: step for plan in SHIPPED.checklists for step in plan.steps}

EACH_CHECKLIST = pytest.mark.parametrize("plan", SHIPPED.checklists, ids=lambda plan: plan.key)
EACH_STEP = pytest.mark.parametrize("step", STEPS.values(), ids=lambda step: step.key)

A_FORK: Facts = {
    "kind": "fork",
    "spring_kind": "air",
    "spring_retention": "internal_circlip",
    "foot_fastener": "bolt",
    "crush_washers": True,
    "bleed_buttons": False,
    "foam_rings": True,
    "self_equalising": True,
    "damper_kind": "sealed_cartridge",
}
NEVER_OPENED = {
    "after-a-crash", "steering-creaks", "lockout-fails",
    "shock-knocks", "shock-leaks-oil", "shock-coil-noise", "shock-hardware-service",
}  # fmt: skip
COMPLAINTS_OF_A_FORK = {
    "bottoms-out",
    "steering-creaks",
    "lockout-fails",
    "sits-low",
    "loses-air",
    "oil-at-seals",
    "harsh-or-sticky",
    "knocks-or-play",
    "tops-out",
    "no-rebound-control",
    "not-full-travel",
}


def reading_keys(plan: ChecklistPlan, kind: str) -> set[str]:
    return {reading.key for step in plan.steps if step.kind == kind for reading in step.readings}


def test_every_file_loads_as_the_checklist_it_is_named_for() -> None:
    files = {path.stem for path in FOLDER.glob("*.yaml")} - {"cautions", "_shared-steps"}
    assert {plan.key for plan in SHIPPED.checklists} == files


def test_forks_shocks_and_routine_work_are_covered() -> None:
    forks = {plan.key for plan in SHIPPED.checklists if plan.complaint.suits == ("fork",) and not plan.is_routine}
    assert forks >= COMPLAINTS_OF_A_FORK
    assert {plan.key for plan in SHIPPED.checklists if plan.complaint.suits == ("shock",)} >= {
        "shock-loses-air",
        "shock-sits-low",
        "shock-knocks",
        "shock-leaks-oil",
        "shock-harsh",
        "shock-coil-noise",
        "shock-air-can-service",
        "shock-full-service",
        "shock-hardware-service",
    }
    assert {plan.key for plan in SHIPPED.checklists if plan.is_routine} == {
        "after-a-crash",  # worked through whole: no first finding ends it
        "damper-service",
        "full-service",
        "routine-lowers-service",
        "shock-air-can-service",
        "shock-full-service",
        "shock-hardware-service",
    }


def test_there_are_enough_steps_and_causes_to_be_of_use() -> None:
    assert len(STEPS) >= 60
    assert len({cause.key for plan in SHIPPED.checklists for cause in plan.causes}) >= 40


@EACH_CHECKLIST
def test_chances_are_marked_as_common_practice(plan: ChecklistPlan) -> None:
    assert plan.chances_source == "common practice, no published source"


@EACH_CHECKLIST
def test_each_cause_is_named_or_offered_by_a_found_answer(plan: ChecklistPlan) -> None:
    offered = set()
    for step in plan.steps:
        if "found" in step.answers:
            cause = step.answers["found"].cause
            offered |= {cause} if cause else {key for key, chance in step.ends_search.items() if chance > 0}
    assert {cause.key for cause in plan.causes} <= offered


@EACH_CHECKLIST
def test_arrival_comes_first_and_proof_last(plan: ChecklistPlan) -> None:
    first, second = plan.steps[:2]
    assert first.safety
    assert [reading.key for reading in first.readings if reading.required] == ["rest_travel"]
    assert second.safety
    assert [reading.key for reading in second.readings if reading.required] == ["pump_pressure"]
    assert plan.steps[-1].kind == "proof"


@EACH_CHECKLIST
def test_an_air_fork_or_shock_is_proved_by_readings(plan: ChecklistPlan) -> None:
    assert reading_keys(plan, "proof") >= {"pressure_set", "pressure_recheck", "rest_travel", "rebound_clicks"}


def test_sits_low_is_proved_by_every_reading_it_needs() -> None:
    plan = SHIPPED.checklist("sits-low")
    required = {r.key for step in plan.steps if step.kind == "proof" for r in step.readings if r.required}
    assert required == {"pressure_set", "pressure_recheck", "rest_travel", "rebound_clicks", "sag"}


def test_sits_low_goes_from_the_cheapest_to_the_dearest() -> None:
    keys = [step.key for step in SHIPPED.checklist("sits-low").steps]
    wanted = [
        "inspect-stanchions", "inspect-wipers", "free-the-wipers", "bleed-legs", "free-port-by-hand",
        "free-port-at-maximum", "all-air-out", "lowers-off", "air-spring-out", "inspect-port",
        "inspect-piston-seals", "clean-bore", "new-spring-seals", "grease-spring", "air-spring-in",
        "prove-circlip-seat", "foam-rings", "lowers-on", "oil-in-legs", "foot-fasteners-on", "knob-on",
        "fill-in-stages", "recheck-after-rebuild", "damper-check", "prove-rest",
    ]  # fmt: skip
    assert [key for key in keys if key in wanted] == wanted


def test_sits_low_and_the_lowers_service_share_the_strip_down() -> None:
    service = {step.key for step in SHIPPED.checklist("routine-lowers-service").steps}
    sits_low = {step.key for step in SHIPPED.checklist("sits-low").steps}
    shared = service & sits_low
    assert shared >= {"wheel-out", "caliper-off", "all-air-out", "foot-fasteners-off", "lowers-off", "lowers-on"}


def test_foam_rings_soak_ten_minutes() -> None:
    timer = STEPS["foam-rings"].timer
    assert timer is not None
    assert timer.minutes == 10


@EACH_CHECKLIST
def test_the_air_is_proved_out_before_a_leg_or_can_is_opened(plan: ChecklistPlan) -> None:
    needs = needs_for(plan, A_FORK)

    def comes_before(key: str) -> set[str]:
        return set().union(*({need} | comes_before(need) for need in needs[key]))

    opened = {"foot-fasteners-off", "air-spring-out", "top-cap-reseal", "count-spacers", "shock-can-off"}
    for key in opened & needs.keys():
        assert comes_before(key) & {"all-air-out", "shock-all-air-out"}, key


@EACH_CHECKLIST
def test_nothing_is_opened_before_everything_outside_was_tried(plan: ChecklistPlan) -> None:
    facts = A_FORK if plan.complaint.suits == ("fork",) else {**A_FORK, "kind": "shock"}
    opening = "foot-fasteners-off" if plan.complaint.suits == ("fork",) else "shock-can-off"
    needs, steps = needs_for(plan, facts), steps_for(plan, facts)
    if opening not in needs:
        assert plan.key in NEVER_OPENED
        return
    opened_at = [step.key for step in steps].index(opening)
    total = sum(cause.prior for cause in causes_for(plan, facts)) or 1.0
    beliefs = {cause.key: cause.prior / total for cause in causes_for(plan, facts)} or {"none": 1.0}
    order = best_order([SearchStep(s.key, s.minutes, needs[s.key], s.ends_search) for s in steps], beliefs)
    for step in steps[:opened_at]:
        if step.kind == "check" and any(step.ends_search.values()):
            assert order.index(step.key) < order.index(opening)


@EACH_STEP
def test_a_step_fits_the_tablet(step: StepPlan) -> None:
    assert len(step.title) <= 45
    for line in step.do:
        assert len(line.text) <= 140, line.text


@EACH_STEP
def test_every_unit_gets_two_to_six_lines(step: StepPlan) -> None:
    asked = sorted({fact for line in step.do for fact in line.when})
    for values in itertools.product(*(FACTS[fact].values for fact in asked)):
        lines = lines_for(step, dict(zip(asked, values, strict=True)))
        assert 2 <= len(lines) <= 6, values


@EACH_STEP
def test_numbers_of_the_maker_are_left_to_spec_values(step: StepPlan) -> None:
    wording = " ".join([*(line.text for line in step.do), *step.look_for, step.counts_as_found])
    assert not re.search(r"\d\s*(N·?m|Nm|ml|cc|cm³|psi|bar|kPa)\b", wording)


@EACH_STEP
def test_a_check_tells_the_customer_what_was_asked_and_not_how_it_ended(step: StepPlan) -> None:
    """The same sentence stands on the report where it was found and where it was ruled out."""
    if step.kind == "check":
        assert not re.search(
            r"\b(checked|made sure) that\b|\bwe (cleared|repeated)\b", step.for_customer, re.IGNORECASE
        )


@EACH_STEP
def test_a_wait_of_minutes_has_its_timer(step: StepPlan) -> None:
    words = {"ten minutes": 10, "fifteen minutes": 15, "twenty minutes": 20, "a quarter of an hour": 15}
    said = " ".join(line.text for line in step.do)
    for wait, minutes in words.items():
        if wait in said:
            assert step.timer is not None
            assert step.timer.minutes == minutes


@EACH_CHECKLIST
def test_a_rear_shock_is_not_told_of_a_forks_parts(plan: ChecklistPlan) -> None:
    if plan.complaint.suits == ("shock",):
        for step in plan.steps:
            said = [step.title, *(line.text for line in step.do), *step.look_for, step.counts_as_found]
            said += [words for answer in step.answers.values() for words in (answer.says, answer.cure)]
            assert not re.search(r"\b(fork|stanchion|lowers|crown|stem|headset|front)", " ".join(said)), step.key
            assert not {"pinch", "steering"} & {caution.key for caution in step.cautions}, step.key


@EACH_STEP
def test_each_answer_that_finds_something_says_why(step: StepPlan) -> None:
    if "found" in step.answers:
        assert step.answers["found"].says.endswith((".", "?")), step.key
        assert len(step.answers["found"].says.split()) >= 4


@EACH_STEP
def test_a_check_tells_what_to_look_for(step: StepPlan) -> None:
    if step.kind == "check":
        assert step.look_for


@EACH_STEP
def test_tightened_bolts_show_their_torque(step: StepPlan) -> None:
    for bolt in step.bolts:
        assert BOLTS[bolt] in step.shows
        assert any(reading.quantity == "torque" for reading in step.readings)


@pytest.mark.parametrize(
    ("key", "caution"),
    [
        ("all-air-out", "trapped-air"),
        ("shock-all-air-out", "trapped-air"),
        ("air-spring-out", "eye-protection"),
        ("free-port-at-maximum", "compressed-air"),
        ("caliper-off", "brakes"),
        ("foot-fasteners-off", "used-oil"),
        ("clean-bore", "solvents"),
        ("adjust-headset", "steering"),
        ("open-damper-bladder", "gas-charge"),
        ("coil-check", "coil-preload"),
    ],
)
def test_cautions_stand_where_the_danger_is(key: str, caution: str) -> None:
    assert caution in {caution.key for caution in STEPS[key].cautions}


def test_every_caution_is_used() -> None:
    used = {caution.key for step in STEPS.values() for caution in step.cautions}
    assert used == set(SHIPPED.cautions)


def test_every_shared_step_is_used_by_two_checklists_at_least() -> None:
    users = {step.key: 0 for step in SHIPPED.shared_steps}
    for plan in SHIPPED.checklists:
        for step in plan.steps:
            if step.shared:
                users[step.key] += 1
    assert [key for key, count in users.items() if count < 2] == []


@EACH_CHECKLIST
def test_leaving_out_what_does_not_apply_leaves_no_dangling_needs(plan: ChecklistPlan) -> None:
    for facts in (A_FORK, {**A_FORK, "spring_kind": "coil"}, {**A_FORK, "foam_rings": False}, {}):
        kept = {step.key for step in steps_for(plan, facts)}
        needs = needs_for(plan, facts)
        assert needs.keys() == kept
        assert set().union(*needs.values()) <= kept


# Words that call a reading good. A fixed sentence cannot know it: 60 mm of sag was printed as in the range.
CALLS_IT_GOOD = re.compile(
    r"\b(in the range|healthy|normal|as it should|as deep as|holds its air|is right|the right|all is well|"
    r"made? sure|to torque|maker’s torque|stays there|so that both|without harming)\b",
    re.IGNORECASE,
)


@EACH_STEP
def test_no_fixed_sentence_calls_a_reading_good(step: StepPlan) -> None:
    """What a step tells the customer that it did, and what a proof's readings are printed beside."""
    said = {"for_customer": step.for_customer}
    if step.readings and step.kind == "proof":
        said["proved"] = step.answers["proved"].says
    # “whether” asks and does not answer
    assert [words for words in said.values() if CALLS_IT_GOOD.search(words) and "whether" not in words] == []
