"""A step of a draft as the tablet would show it on units of a model; nothing is saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnosis.layout import ChecklistPlan, applies, step_data, steps_for
from diagnosis.layout_plans import BOLTS, StepPlan
from diagnosis.models import Step, Tick
from diagnosis.runs_rules import lawful_outcomes
from diagnosis.runs_state import StepState
from specs.facts import FactValue
from specs.lookup import SpecWritten, choose, current_values
from specs.models import SuspensionModel
from workshop.bench.step_form import TickForm
from workshop.bench.step_page import OUTCOME_ICONS
from workshop.staff.models import Shop


@dataclass(frozen=True)
class Preview:
    """The steps of a plan that a model's units get, one of them open."""

    plan: ChecklistPlan
    model: SuspensionModel | None
    shop: Shop
    open_key: str

    @property
    def facts(self) -> Mapping[str, FactValue | None]:
        if self.model is not None:
            return self.model.facts()
        return {"kind": self.plan.complaint.suits[0]}

    @property
    def listed(self) -> list[StepState]:
        return [self._state(step) for step in steps_for(self.plan, self.facts)]

    def context(self) -> dict[str, Any]:
        """What the page shows: the list, the open step with its values, readings and buttons, where answers lead."""
        listed = self.listed
        state = next((one for one in listed if one.key == self.open_key), listed[0] if listed else None)
        context: dict[str, Any] = {
            "listed": listed,
            "state": state,
            "left_out": [step for step in self.plan.steps if applies(step, self.facts) == "no"],
        }
        if state is None:
            return context
        step = state.step
        wanted = [*step.shows, *(BOLTS[bolt] for bolt in step.bolts)]
        return context | {
            "place": listed.index(state) + 1,
            "specs": self._specs(wanted),
            "form": TickForm(state, self.shop, 1),
            "buttons": [
                (str(Tick.Outcome(value).label), OUTCOME_ICONS[value]) for value in lawful_outcomes(state.step)
            ],
            "leads": self._leads(step),
        }

    def _state(self, step: StepPlan) -> StepState:
        return StepState(
            step=Step(**step_data(step)),
            facts=self.facts,
            tick=None,
            readings={},
            timers=(),
            missing_needs=(),
        )

    def _specs(self, keys: list[str]) -> list[SpecWritten]:
        if self.model is None or not keys:
            return []
        return [shown.written(self.shop.unit_for) for shown in choose(current_values(self.model), keys)]

    def _leads(self, step: Step) -> list[dict[str, str]]:
        titles = {one.key: one.title for one in self.plan.steps}
        causes = {one.key: one.title for one in self.plan.causes}
        return [
            {
                "words": str(Tick.Outcome(outcome).label),
                "cause": causes.get(answer["cause"], ""),
                "says": answer["says"],
                "next": titles.get(answer["next"], ""),
            }
            for outcome, answer in step.answers.items()
        ]
