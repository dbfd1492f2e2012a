"""What the shipped texts must say and may never say. Trade facts: common practice, no published source. No database."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from diagnosis.coverage import OWN_STEP, what_it_leaves_out
from diagnosis.layout import ChecklistPlan, StepPlan, applies, lines_for
from diagnosis.repairs import repair_of
from diagnosis.runs_rules import causes_of
from specs.facts import FACTS, FactValue
from tests.checklist_walks import as_steps
from tests.shipped import shipped_folder

SHIPPED = shipped_folder()
STEPS = {step.key: step for plan in SHIPPED.checklists for step in plan.steps}
LISTS = pytest.mark.parametrize("plan", SHIPPED.checklists, ids=lambda plan: plan.key)


def said(step: StepPlan, facts: Mapping[str, Any] | None = None) -> list[str]:
    """Everything a step says on a unit with these facts; without facts every line."""
    lines = step.do if facts is None else lines_for(step, facts)
    answers = [words for answer in step.answers.values() for words in (answer.says, answer.cure)]
    return [step.title, *(line.text for line in lines), *step.look_for, step.counts_as_found, *answers]


def cautions(step: StepPlan) -> set[str]:
    return {caution.key for caution in step.cautions}


# What a word names is not on a unit with this fact, and the step must not say it there.
LACKED: tuple[tuple[str, FactValue, str], ...] = (
    ("spring_kind", "coil", r"air (?:spring|leg|shaft|chamber)|shock pump|gauge|(?:rider's|the|note|compare) pressure"),
    ("spring_kind", "coil", r"negative chamber"),
    ("spring_kind", "air", r"coil|preload"),
    ("foam_rings", False, r"foam rings?|the foam|foam squeezed|foam that"),  # soap foams too
    ("bleed_buttons", False, r"button"),
    ("crush_washers", False, r"crush washers?"),
    ("foot_fastener", "bolt", r"foot nuts?"),
    ("foot_fastener", "nut", r"foot bolts?"),
    ("spring_retention", "internal_circlip", r"wire ring|threaded seal head"),
    ("spring_retention", "wire_ring", r"circlip|threaded seal head"),
    ("spring_retention", "threaded_cap", r"circlip|wire ring"),
    ("self_equalising", False, r"port"),
    ("ramp_chamber", False, r"ramp-up"),
    ("inverted", True, r"arch|wiper to crown|bleed buttons?"),
    ("inverted", False, r"inverted|guards?|outer tubes?|axle clamps?"),
    ("crowns", "single", r"both crowns|(?:upper|lower) crown|twin crown"),
    ("remote", "none", r"remote"),
    ("reservoir", "inline", r"reservoir|piggyback"),
    ("damper_kind", "sealed_cartridge", r"open bath|(?<!or )bladder(?! or|s? leaks or)"),
    ("damper_kind", "open_bath", r"(?<!or )bladder|cartridge"),
)


# Of a list that does not cover such a unit nothing is said on one.
NEVER_THERE = {
    (fact, value, key)
    for fact, value in OWN_STEP
    for key in STEPS
    if all(
        what_it_leaves_out(plan.steps, {fact: value})
        for plan in SHIPPED.checklists
        if any(step.key == key for step in plan.steps)
    )
}


def named_in_vain(step: StepPlan) -> Iterator[str]:
    for fact, value, words in LACKED:
        if applies(step, {fact: value}) == "no" or (fact, value, step.key) in NEVER_THERE:
            continue
        for text in said(step, {fact: value}):
            found = re.search(rf"\b({words})\b", text, re.IGNORECASE)
            asks = re.search(r"\?|\bwhere there (?:is|are)\b\b|\bby model\b|\bif the (fork|model) has\b", text)
            of_gas = found and found[0].lower() == "gauge" and "gas-charge" in cautions(step)  # a damper's own charge
            if found and not asks and not of_gas:
                yield f"{FACTS[fact].label}={value}: {found[0]}: {text}"


@pytest.mark.parametrize("step", STEPS.values(), ids=lambda step: step.key)
def test_no_step_names_a_part_that_the_unit_lacks(step: StepPlan) -> None:
    assert list(named_in_vain(step)) == []


def told(step: StepPlan) -> str:
    return " ".join(line.text for line in step.do)


def steps_that_say(words: str) -> list[StepPlan]:
    return [step for step in STEPS.values() if re.search(words, told(step), re.IGNORECASE)]


def test_every_step_that_touches_air_has_its_cautions() -> None:
    air = r"\bpump (on|off|to|slowly)|\bthe core\b|let (the|all|it) (air )?out|valve cap|put air back"
    found = {step.key: cautions(step) for step in steps_that_say(air)}
    assert len(found) > 15
    lacking = {
        key: ({"eye-protection"} if "gas-charge" in has else {"compressed-air", "eye-protection"}) - has
        for key, has in found.items()
    }
    assert {key: sorted(lacks) for key, lacks in lacking.items() if lacks} == {}


def test_what_opens_the_air_side_warns_of_trapped_air() -> None:
    opened = {"top_cap", "spring", "can", "foot_fasteners"}
    for step in STEPS.values():
        left = {
            part
            for answer in step.answers.values()
            for part, value in answer.leaves.items()
            if value in ("out", "removed")
        }
        if opened & ({*step.opens} | left) and applies(step, {"spring_kind": "air"}) != "no":
            assert "trapped-air" in cautions(step), step.key


def test_eyes_are_protected_where_rings_spring_off_and_solvents_splash() -> None:
    words = r"\bcirclip|wire ring|retaining ring|\bclip\b|cleaning fluid|brake cleaner"
    handled = steps_that_say(words) + [
        step for step in STEPS.values() if any(re.search(words, item) for item in step.consumables)
    ]
    assert len(handled) >= 5
    assert [step.key for step in handled if "eye-protection" not in cautions(step)] == []


def test_whatever_has_a_solvent_or_pressure_in_its_cautions_has_glasses_too() -> None:
    risky = {"compressed-air", "trapped-air", "solvents", "gas-charge", "coil-preload"}
    assert [
        step.key for step in STEPS.values() if risky & cautions(step) and "eye-protection" not in cautions(step)
    ] == []


def test_bolts_of_steering_and_brake_warn_and_defer_to_the_manual() -> None:
    for step in STEPS.values():
        if {"axle", "caliper", "stem"} & {*step.bolts}:
            assert {"steering", "makers-manual"} <= cautions(step), step.key


def test_a_fork_that_leaves_the_frame_opens_both_crowns_of_a_twin_crown() -> None:
    """Its legs stand in the upper crown: with the stem's torque alone on record its clamps would go unread."""
    taken_out = [step for step in steps_that_say(r"fork (?:down and )?out of the frame") if step.kind != "proof"]
    assert {step.key for step in taken_out} >= {"crash-steerer", "headset-look", "headset-cleaned"}
    for step in taken_out:
        assert "crowns" in step.opens, step.key
        assert re.search(r"upper crown", " ".join(said(step, {"crowns": "twin"})), re.IGNORECASE), step.key
        left = [answer.leaves for key, answer in step.answers.items() if key not in ("left_out", "cant_tell")]
        assert all(leaves.get("crowns") == "loose" for leaves in left), step.key


@LISTS
def test_no_cap_of_a_coil_fork_opens_before_its_preload_is_off(plan: ChecklistPlan) -> None:
    """Some makers put a coil into each leg, so the damper's cap may be held up by one as well."""
    by_key = {step.key: step for step in plan.steps}

    def before(key: str) -> set[str]:
        needs = {need for need in by_key[key].needs if need in by_key}
        return needs.union(*(before(need) for need in needs))

    coil = {"kind": "fork", "spring_kind": "coil"}
    for step in plan.steps:
        opens_a_cap = re.search(r"\bcap off\b|unscrew the (?:top )?cap", " ".join(said(step, coil)), re.IGNORECASE)
        if "fork" in plan.complaint.suits and opens_a_cap and applies(step, coil) != "no":
            assert "preload-off" in before(step.key) or "coil-preload" in cautions(step), step.key


def test_the_bike_is_never_clamped_by_its_frame() -> None:
    texts = [text for step in STEPS.values() for text in said(step)]
    texts += [caution.text for caution in SHIPPED.cautions.values()]
    wrong = r"clamp (the bike|it)\b|by the frame(?! tube)"
    assert [text for text in texts if re.search(wrong, text, re.IGNORECASE)] == []
    held = [text for text in texts if "seat post" in text]
    assert held
    assert all("carbon" in text for text in held)


def test_who_pulls_at_a_fork_without_its_wheel_has_blocked_up_feet_and_something_to_stand_on() -> None:
    for key in ("free-port-by-hand", "free-port-at-maximum"):
        assert re.search(r"block", told(STEPS[key]))
    assert "knob" in told(STEPS["free-port-by-hand"])
    assert re.search(r"flush", told(STEPS["free-port-by-hand"]))


@LISTS
def test_bushings_are_checked_before_new_wipers_go_in(plan: ChecklistPlan) -> None:
    keys = [step.key for step in plan.steps]
    if "fit-wipers" in keys:
        assert "inspect-bushings" in plan.step("fit-wipers").needs
        assert keys.index("inspect-bushings") < keys.index("fit-wipers")


@pytest.mark.parametrize("step", STEPS.values(), ids=lambda step: step.key)
def test_the_rebound_knob_is_off_before_a_foot_is_tightened(step: StepPlan) -> None:
    lines = [line.text for line in step.do]
    tight = [place for place, text in enumerate(lines) if re.search(r"torque wrench", text, re.IGNORECASE)]
    if {"foot_air_leg", "foot_damper_leg"} & {*step.bolts} or step.key == "look-at-feet":
        knob = [place for place, text in enumerate(lines) if re.search(r"knob", text, re.IGNORECASE)]
        assert knob
        assert tight
        assert min(knob) <= min(tight)


@LISTS
def test_preload_is_counted_and_off_before_the_lowers_can_move(plan: ChecklistPlan) -> None:
    keys = [step.key for step in plan.steps]
    if "foot-fasteners-off" in keys:
        assert "preload-off" in plan.step("foot-fasteners-off").needs
        assert keys.index("preload-off") < keys.index("foot-fasteners-off")
        assert "count" in told(plan.step("preload-off"))


def test_whoever_turns_the_preload_says_that_it_is_opened() -> None:
    """What was counted as the bike leaves holds no more after it, and another check asks for it closed."""
    on_a_coil = {"spring_kind": "coil"}
    here = [step for step in STEPS.values() if applies(step, on_a_coil) != "no"]
    turns = re.compile(r"\b(?:back|take|turn)\b[^.]*\bpreload\b", re.IGNORECASE)
    turned = {step.key for step in here if any(turns.search(text) for text in said(step, on_a_coil))}
    assert {"sag-before", "coil-check", "coil-preload-check", "preload-off"} <= turned
    for key in turned:
        left = {part for answer in STEPS[key].answers.values() for part in answer.leaves}
        assert "preload" in {*STEPS[key].opens, *left}, key


def test_a_thread_that_holds_the_spring_gets_its_torque() -> None:
    for key in ("air-spring-in", "prove-retention"):
        lines = [line.text for line in lines_for(STEPS[key], {"spring_retention": "threaded_cap"})]
        assert any("torque wrench" in text for text in lines)


def test_an_open_bath_is_filled_from_the_top() -> None:
    text = told(STEPS["open-bath-oil"])
    assert re.search(r"level or volume", text)
    assert "open-bath-oil" in STEPS["knob-on"].needs


@pytest.mark.parametrize(
    ("key", "least", "most", "not_asked"),
    [
        ("routine-lowers-service", 55, 80, {"loaded-chamber", "preload-off", "open-bath-oil", "prove-retention"}),
        ("shock-air-can-service", 40, 60, {"shock-loaded-chamber"}),
    ],
)
def test_a_service_takes_as_long_as_in_practice(key: str, least: int, most: int, not_asked: set[str]) -> None:
    """An hour and a quarter at the lowers, under an hour at the can: common practice, no published source."""
    steps = [step for step in SHIPPED.checklist(key).steps if step.key not in not_asked and not step.on_finding]
    assert least <= sum(step.minutes for step in steps) <= most


@LISTS
def test_every_cause_has_a_repair(plan: ChecklistPlan) -> None:
    steps = as_steps(plan)
    repaired = {cause for step in steps for cause in causes_of(step) if repair_of(step, steps)}
    assert {cause.key for cause in plan.causes} <= repaired


@LISTS
def test_every_cause_is_put_right_by_steps_and_ends_in_a_proof(plan: ChecklistPlan) -> None:
    """A part alone is no repair: somebody fits it, or a proof shows that it is right, and a proof comes last."""
    steps = as_steps(plan)
    by_steps = {cause for step in steps for cause in causes_of(step) if repair_of(step, steps).steps}
    assert {cause.key for cause in plan.causes} - by_steps == set()
    assert plan.steps[-1].kind == "proof"


@LISTS
def test_a_repair_that_waits_for_a_finding_is_named_by_one_and_says_what_its_leaving_out_means(
    plan: ChecklistPlan,
) -> None:
    named = {key for step in plan.steps for answer in step.answers.values() for key in answer.repair}
    waiting = [step for step in plan.steps if step.on_finding]
    assert {step.key for step in waiting} <= named
    assert [step.key for step in waiting if not step.answers["left_out"].says] == []
    needed = {need for step in plan.steps if not step.on_finding for need in step.needs}
    assert not needed & {step.key for step in waiting}


def test_a_danger_is_never_put_right_by_a_proof_alone() -> None:
    """Cracked, bent or cut deep: only the part that is replaced ends it, else it leaves signed for as unsafe."""
    dangers = 0
    for plan in SHIPPED.checklists:
        by_key = {step.key: step for step in plan.steps}
        for step in plan.steps:
            found = step.answers.get("found")
            if found is not None and found.finding == "danger":
                dangers += 1
                assert any(by_key[key].kind == "work" for key in found.repair), (plan.key, step.key)
                assert re.search(r"\brid(e|den)\b", found.call_customer or ""), (plan.key, step.key)
    assert dangers >= 9


@LISTS
def test_torn_wipers_are_replaced(plan: ChecklistPlan) -> None:
    keys = {step.key for step in plan.steps}
    if "inspect-wipers" in keys:
        assert "fit-wipers" in keys
        assert plan.step("inspect-wipers").answers["found"].repair == ("fit-wipers",)


# Trade words that a customer does not know; “air spring”, “damper” and “lower legs” are said on every paper.
TRADE_WORDS = re.compile(
    r"\b(stanchions?|wipers?|bushings?|headset|torque\w*|cartridge|circlip|preload\w*|sag|caliper|crown|lowers|"
    r"equalis\w+|bleed\w*|bled|piston|seal head|top-out|shims?|rebound|compression|lockout|negative|positive|port|"
    r"cycled?|adjuster|bore)\b",
    re.IGNORECASE,
)
PAST = re.compile(r"^We (\w+ed|took|put|read|let|set|saw|felt|rode|rebuilt|told|kept|made|found|left|held)\b")


PRESENT = re.compile(
    r"\b(is|are|has|does|(?<!air )can|moves|loses|suits?|sits?|keeps|rests|leaks|works|stays|stands|holds|stops)\b"
)


@pytest.mark.parametrize("step", STEPS.values(), ids=lambda step: step.key)
def test_the_customer_is_told_what_was_done_in_words_they_know(step: StepPlan) -> None:
    assert PAST.match(step.for_customer)
    assert TRADE_WORDS.findall(step.for_customer) == []
    assert not re.search(r"\b(must|should|never|do not|will)\b", step.for_customer)
    assert not PRESENT.search(step.for_customer.removesuffix(" What was fitted is in the list of parts."))


@LISTS
def test_causes_and_calls_are_in_words_the_customer_knows(plan: ChecklistPlan) -> None:
    words = [cause.for_customer for cause in plan.causes]
    words += [answer.call_customer for step in plan.steps for answer in step.answers.values() if answer.call_customer]
    assert [text for text in words if TRADE_WORDS.search(text)] == []


@LISTS
def test_a_check_that_opens_nothing_stands_before_what_opens_the_unit(plan: ChecklistPlan) -> None:
    keys = [step.key for step in plan.steps]
    opening = [key for key in keys if key in {"wheel-out", "shock-all-air-out", "foot-fasteners-off"}]
    first = keys.index(opening[0]) if opening else len(keys)
    late = [
        step.key
        for step in plan.steps[first:]
        if step.kind == "check"
        and any(step.ends_search.values())
        and not (set(step.needs) & set(keys[first:]))
        and not {"removed", "out", "empty"} & {value for values in step.requires.values() for value in values}
    ]
    assert late == []


@LISTS
def test_the_headset_is_ruled_out_before_the_bushings(plan: ChecklistPlan) -> None:
    keys = [step.key for step in plan.steps]
    for bushing in ("feel-bushing-play", "inspect-bushings"):
        if "check-headset" in keys and bushing in keys:
            assert keys.index("check-headset") < keys.index(bushing)
