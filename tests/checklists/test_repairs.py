"""Each finding of the shipped checklists names what answers it: steps, a test, or parts."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from diagnosis.layout import applies, step_data
from diagnosis.layout_plans import ChecklistPlan
from diagnosis.repairs import repair_of
from diagnosis.runs_rules import causes_of
from tests.shipped import shipped_folder

PLANS = shipped_folder().checklists


def as_steps(plan: ChecklistPlan) -> list[Any]:
    """The steps as a run has them."""
    return [SimpleNamespace(**step_data(step)) for step in plan.steps]


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.key)
def test_every_finding_names_its_repair(plan: ChecklistPlan) -> None:
    steps = as_steps(plan)
    silent = [step.key for step in steps if step.kind == "check" and not repair_of(step, steps)]
    assert silent == [], f"{plan.key}: nothing answers what is found at {', '.join(silent)}"


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.key)
def test_every_cause_can_be_found_where_a_repair_is_named(plan: ChecklistPlan) -> None:
    steps = as_steps(plan)
    for cause in plan.causes:
        found_at = [step for step in steps if step.ends_search.get(cause.key, 0) > 0]
        assert any(repair_of(step, steps) for step in found_at), cause.key


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.key)
def test_a_repair_is_work_or_a_proof_that_comes_in_the_list(plan: ChecklistPlan) -> None:
    by_key = {step.key: step for step in plan.steps}
    for step in plan.steps:
        answer = step.answers.get("found")
        for key in answer.repair if answer else ():
            assert key in by_key, f"{plan.key}, {step.key}: no step {key}"
            assert by_key[key].kind in ("work", "proof"), f"{plan.key}, {step.key}: {key} mends nothing"


class TestWhereItComesFrom:
    @staticmethod
    def step(key: str, kind: str = "check", **found: Any) -> Any:
        answers = {"found": found} if kind == "check" else {"done": found}
        return SimpleNamespace(key=key, kind=kind, answers=answers)

    def test_named_steps_come_first(self) -> None:
        check = self.step("look", repair=["mend", "prove"], next="other", parts=[{"role": "wiper"}])
        mend, prove, other = self.step("mend", "work"), self.step("prove", "proof"), self.step("other", "proof")
        repair = repair_of(check, [check, mend, prove, other])
        assert [step.key for step in repair.steps] == ["mend", "prove"]
        assert repair.parts == ("wiper",)

    def test_else_the_work_that_mends_the_fault_it_leaves(self) -> None:
        check = self.step("look", leaves={"air_seals": "leaking"}, next="wheel-out")
        mend = self.step("mend", "work", leaves={"air_seals": "renewed"})
        assert [step.key for step in repair_of(check, [check, mend, self.step("wheel-out", "work")]).steps] == ["mend"]

    def test_else_the_proof_it_leads_to(self) -> None:
        check = self.step("look", next="prove")
        assert [step.key for step in repair_of(check, [check, self.step("prove", "proof")]).steps] == ["prove"]

    def test_work_that_only_opens_the_way_mends_nothing(self) -> None:
        check = self.step("look", next="wheel-out")
        assert not repair_of(check, [check, self.step("wheel-out", "work")])


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.key)
def test_a_finding_of_several_causes_names_what_each_of_them_asks_for(plan: ChecklistPlan) -> None:
    """What waits for a finding is suggested nowhere where the finding that chose its cause does not name it."""
    steps = as_steps(plan)
    waiting = {step.key for step in steps if step.on_finding}
    repairs = {step.key: set(step.answers.get("found", {}).get("repair") or ()) for step in steps}
    of_cause: dict[str, set[str]] = {}
    for step in steps:
        if len(causes := causes_of(step)) == 1:
            of_cause.setdefault(causes[0], set()).update(waiting & repairs[step.key])
    missing = {(step.key, cause) for step in steps for cause in causes_of(step)
               if not of_cause.get(cause, set()) <= repairs[step.key] and len(causes_of(step)) > 1}  # fmt: skip
    assert missing == set()


def test_what_is_called_a_full_service_services_the_spring_whichever_it_is() -> None:
    routine = [plan for plan in PLANS if plan.is_routine]
    for plan in routine:
        for kind, spring in (("fork", "air"), ("fork", "coil"), ("shock", "air")):
            facts = {"kind": kind, "spring_kind": spring}
            of = {level for step in plan.steps if applies(step, facts) != "no" for level in step.services}
            if kind in plan.complaint.suits and "full" in of:
                assert "spring" in of, (plan.key, facts)
