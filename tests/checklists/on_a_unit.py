"""What is left of a checklist on a unit with given facts, by the rules that the bench goes by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from diagnosis.layout import CausePlan, ChecklistPlan, steps_for
from diagnosis.layout_facts import Facts
from diagnosis.planning import causes_within_reach
from diagnosis.runs_rules import RunStep, needs_of


def needs_for(plan: ChecklistPlan, facts: Facts) -> dict[str, frozenset[str]]:
    """For each step that applies, the applying steps that must come first."""
    needs = needs_of(_steps(plan), facts)
    return {step.key: needs[step.key] for step in steps_for(plan, facts)}


def causes_for(plan: ChecklistPlan, facts: Facts) -> tuple[CausePlan, ...]:
    """The causes that a step which applies, or may, can find; a soft coil is no cause in an air fork."""
    reachable = causes_within_reach(_steps(plan), facts, {cause.key: cause.prior for cause in plan.causes})
    return tuple(cause for cause in plan.causes if cause.key in reachable)


def _steps(plan: ChecklistPlan) -> Sequence[RunStep]:
    """Steps of a plan cannot be changed, and the rules change none."""
    return cast("Sequence[RunStep]", plan.steps)
