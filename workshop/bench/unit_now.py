"""The state of the unit in a line on every step: what is open, let out or in doubt, and which answer says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnosis.runs_state import RunState, StepState
from diagnosis.unit_parts import CHAMBERS, PARTS, UNKNOWN


@dataclass(frozen=True)
class PartNow:
    """A part that is not as it came in or as it may leave, in words, and the step whose answer left it so.

    `can_be_otherwise`: that answer stands and is of the run that is open, so that it can be taken back from here; the
    part is then unknown, which counts as the dangerous one, and the step is asked again.
    """

    words: str
    is_doubtful: bool
    run_pk: int
    step: StepState
    can_be_otherwise: bool


def unit_now(state: RunState, job: Sequence[RunState]) -> list[PartNow]:
    """Parts that an answer opened or left in doubt, and chambers whose air an answer speaks of, by their order.

    What was closed again is left out, and so is what nobody touched.
    """
    runs = [state, *(other for other in job if other.run.pk != state.run.pk)]
    found = []
    for part in PARTS:
        if part not in state.unit.set_by or not (state.unit.is_open(part) or part in CHAMBERS):
            continue
        value, (_, key) = state.unit.conditions[part], state.unit.set_by[part]
        source = next((run for run in runs if key in run.by_key), None)
        if source is None:
            continue
        step = source.by_key[key]
        stands = source is state and step.tick is not None
        found.append(PartNow(PARTS[part].in_words(value), value == UNKNOWN, source.run.pk, step, stands))
    return found
