"""What a new version may not lose: safety steps, their place among the others, and proof."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnosis.layout import CausePlan, ChecklistPlan, ComplaintPlan, LinePlan, StepPlan
from diagnosis.layout_safeguards import safeguard_problems


def a_step(key: str, *, kind: str = "work", safety: bool = False, replaces: tuple[str, ...] = ()) -> StepPlan:
    return StepPlan(
        key, kind, key.title(), (LinePlan("Do it."),), 1.0, "mechanic", "We did it.", replaces, safety=safety
    )


def a_plan(*steps: StepPlan) -> ChecklistPlan:
    complaint = ComplaintPlan("c", "C", ("fork",), ("c",))
    return ChecklistPlan("c", "C", "s", False, "common practice", complaint, (CausePlan("x", "X", "x", 1.0),), steps)


LOOK, AIR, OPEN, PROVE = a_step("look"), a_step("air", safety=True), a_step("open"), a_step("prove", kind="proof")
BEFORE = a_plan(LOOK, AIR, OPEN, PROVE)


def said(*steps: StepPlan) -> list[str]:
    return [problem.reason for problem in safeguard_problems("c.yaml", BEFORE, a_plan(*steps))]


def test_ordinary_steps_come_and_go() -> None:
    assert said(a_step("new"), AIR, a_step("newer"), PROVE) == []
    assert said(LOOK, AIR, PROVE, OPEN) == []  # a proof that is no safety step may move


def test_a_safety_step_does_not_just_go() -> None:
    assert said(LOOK, OPEN, PROVE) == ["the safety step “Air” is gone; name the safety step that replaces it"]


def test_a_safety_step_may_be_replaced_by_one() -> None:
    assert said(LOOK, a_step("valve", safety=True, replaces=("air",)), OPEN, PROVE) == []


def test_what_is_no_safety_step_cannot_replace_one() -> None:
    assert said(LOOK, a_step("valve", replaces=("air",)), OPEN, PROVE) != []


def test_a_safety_step_stays_one() -> None:
    (problem,) = safeguard_problems("c.yaml", BEFORE, a_plan(LOOK, replace(AIR, safety=False), OPEN, PROVE))
    assert (problem.step, problem.field) == ("air", "safety")


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ((LOOK, OPEN, AIR, PROVE), "“Open” came after “Air” and would now come before it"),
        ((AIR, LOOK, OPEN, PROVE), "“Look” came before “Air” and would now come after it"),
    ],
)
def test_a_safety_step_keeps_its_place(steps: tuple[StepPlan, ...], words: str) -> None:
    assert said(*steps) == [f"a safety step keeps its place: {words}"]


def test_two_safety_steps_that_change_places_are_said_once() -> None:
    other = a_step("caliper", safety=True)
    before, after = a_plan(AIR, other, PROVE), a_plan(other, AIR, PROVE)
    assert len(list(safeguard_problems("c.yaml", before, after))) == 1


def test_proof_does_not_just_go() -> None:
    assert said(LOOK, AIR, OPEN) == ["the proof step “Prove” is gone; name the proof step that replaces it"]
    assert said(LOOK, AIR, OPEN, a_step("ride", replaces=("prove",))) != []
    assert said(LOOK, AIR, OPEN, a_step("ride", kind="proof", replaces=("prove",))) == []


FILL = replace(a_step("fill", safety=True), requires={"lowers": ("closed",), "positive_air": ("as_it_came", "level")})
TRY = replace(a_step("try", kind="proof"), requires={"lowers": ("closed",)}, proves=("lowers", "wheel"))


def loosened(step: StepPlan, *steps: StepPlan) -> list[tuple[str, str]]:
    return [(one.step, one.field) for one in safeguard_problems("c.yaml", a_plan(step), a_plan(*steps))]


def test_a_safety_step_keeps_what_it_requires_of_the_unit() -> None:
    assert loosened(FILL, FILL) == []
    assert loosened(FILL, replace(FILL, requires={})) == [("fill", "requires"), ("fill", "requires")]
    assert loosened(FILL, replace(FILL, requires={"positive_air": ("level",)})) == [("fill", "requires")]
    looser = {**FILL.requires, "lowers": ("closed", "removed")}
    assert loosened(FILL, replace(FILL, requires=looser)) == [("fill", "requires")]


def test_it_may_require_more_or_the_same_in_other_words() -> None:
    stricter = {**FILL.requires, "lowers": ("fitted",), "oil": ("closed",), "positive_air": ("level",)}
    assert loosened(FILL, replace(FILL, requires=stricter)) == []
    assert loosened(FILL, replace(FILL, requires={**FILL.requires, "lowers": ("as_it_came", "fitted")})) == []


def test_so_does_what_replaces_it_and_a_proof_keeps_what_it_proves() -> None:
    heir = replace(a_step("pump", safety=True, replaces=("fill",)), requires=FILL.requires)
    assert loosened(FILL, heir) == []
    assert loosened(FILL, replace(heir, requires={})) == [("pump", "requires"), ("pump", "requires")]
    assert loosened(TRY, replace(TRY, proves=("wheel",))) == [("try", "proves")]
    assert loosened(TRY, replace(TRY, requires={})) == [("try", "requires")]


def test_an_ordinary_step_may_require_less() -> None:
    assert loosened(replace(FILL, safety=False), replace(FILL, safety=False, requires={})) == []


def test_a_version_from_before_requires_nothing_that_could_be_lost() -> None:
    assert loosened(replace(FILL, requires={}), FILL) == []
