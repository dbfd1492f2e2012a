"""Safety work of a run that was left out: ready asks for it, so it is named while it can still be done cheaply."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnosis.layout_plans import WORK
from diagnosis.runs_rules import ALL_WELL, LEFT_OUT, lawful_outcomes
from diagnosis.runs_state import RunState, StepState
from diagnosis.unit_state import UnitState


@dataclass(frozen=True)
class LeftOutWork:
    """A safety step that was left out. `can_be_done`: at once, as the unit is now. `is_closed_by_open_step`: no longer
    once the step that is open is done."""

    step_state: StepState
    can_be_done: bool
    is_closed_by_open_step: bool = False

    @property
    def key(self) -> str:
        return self.step_state.key

    @property
    def title(self) -> str:
        return self.step_state.step.title


def safety_left_out(state: RunState, at: StepState | None = None) -> list[LeftOutWork]:
    """In the order of the handbook; at the step that is open, `at`, it is not named by another of itself."""
    found = []
    for one in state.steps:
        if one.step.kind != WORK or not one.step.safety or one.outcome != LEFT_OUT or (at and at.key == one.key):
            continue
        can_be_done = not one.unmet and not one.missing_needs
        shut = can_be_done and at is not None and _shuts_out(state.unit, at, one)
        found.append(LeftOutWork(one, can_be_done, shut))
    return found


def _shuts_out(unit: UnitState, at: StepState, other: StepState) -> bool:
    """Whether the open step, done as it says, leaves the unit otherwise than the other step requires it."""
    well: Sequence[str] = [outcome for outcome in lawful_outcomes(at.step) if outcome in ALL_WELL]
    return any(unit.after(at.step, outcome).unmet(other.step) for outcome in well)
