"""The state of the unit in a line on every step: what is open, let out or in doubt, and which answers say so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnosis.runs_state import RunState, StepState
from diagnosis.unit_parts import CHAMBERS, PARTS, UNKNOWN

BOTH_CHAMBERS = "Air chambers"


@dataclass(frozen=True)
class SaidNow:
    """What one step's answer left open, let out or in doubt: briefly, and as clauses.

    `can_be_otherwise`: that answer stands and is of the run that is open, so that it can be taken back from here; what
    it left is then unknown, which counts as the dangerous one, and the step is asked again.
    """

    briefly: str
    clauses: tuple[str, ...]
    is_doubtful: bool
    run_pk: int
    step: StepState
    can_be_otherwise: bool


def unit_now(state: RunState, job: Sequence[RunState]) -> list[SaidNow]:
    """By the step that said it: parts that are open or in doubt, and chambers whose air an answer speaks of.

    What was closed again is left out, and so is what nobody touched. A wait that was left early stands there until its
    step is done again. No query.
    """
    runs = [state, *(other for other in job if other.run.pk != state.run.pk)]
    by_step: dict[str, dict[str, str]] = {}
    for part in PARTS:
        if part in state.unit.set_by and (state.unit.is_open(part) or part in CHAMBERS):
            by_step.setdefault(state.unit.set_by[part][1], {})[part] = state.unit.conditions[part]
    found = []
    for key, left in by_step.items():
        source = next((run for run in runs if key in run.by_key), None)
        if source is not None:
            step = source.by_key[key]
            found.append(
                SaidNow(
                    _of_wait(step) + _briefly(left),
                    tuple(PARTS[part].in_words(value) for part, value in left.items()),
                    UNKNOWN in left.values(),
                    source.run.pk,
                    step,
                    source is state and step.tick is not None,
                )
            )
    seen = {one.step.key for one in found}
    for run in runs:
        for step in run.steps:
            if step.is_left_early and step.key not in seen:
                seen.add(step.key)
                found.append(_left_early(run, step))
    return found


def _of_wait(step: StepState) -> str:
    """Why what a step was to show is not known, where that is a wait that was not kept."""
    return f"Wait left early: {step.step.title} · " if step.is_left_early else ""


def _left_early(run: RunState, step: StepState) -> SaidNow:
    words = f"Wait left early: {step.step.title}"
    return SaidNow(words, (words,), is_doubtful=True, run_pk=run.run.pk, step=step, can_be_otherwise=False)


def _briefly(left: dict[str, str]) -> str:
    """The chambers in one where both are alike, as they nearly always are."""
    chambers = {left[part] for part in CHAMBERS if part in left}
    if len(chambers) == 1 and set(CHAMBERS) <= set(left):
        first, *_ = CHAMBERS
        words = [PARTS[first].briefly(left[first]).replace(PARTS[first].label, BOTH_CHAMBERS, 1)]
    else:
        words = [PARTS[part].briefly(left[part]) for part in CHAMBERS if part in left]
    words += [PARTS[part].briefly(value) for part, value in left.items() if part not in CHAMBERS]
    return ", ".join([words[0], *(f"{word[:1].lower()}{word[1:]}" for word in words[1:])])
