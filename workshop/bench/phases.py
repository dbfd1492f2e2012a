"""The steps of a run by the phases of a job, from looking to proving, for the list on the bench. Pure.

The phase follows from what a step declares: its kind, what it requires of the unit and what its answers leave. Which
work belongs to which phase is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from diagnosis.runs_state import StepState
from diagnosis.unit_parts import CHAMBERS, CHARGED, EMPTY, LEVEL, LOADED, PARTS

LOOK, CLEAN, AIR, STRIP, INSPECT, REBUILD, PROVE = "look", "clean", "air", "strip", "inspect", "rebuild", "prove"
PHASES: Mapping[str, str] = {
    LOOK: "Look",
    CLEAN: "Clean",
    AIR: "Air",
    STRIP: "Strip",
    INSPECT: "Inspect",
    REBUILD: "Rebuild",
    PROVE: "Prove",
}
"""In the order of a job, with the words of the list."""

_INSIDE = frozenset({"top_cap", "spring", "damper", "damper_body", "lowers", "can"})  # open: one looks into the unit
_LET_OUT = frozenset({EMPTY, LOADED})
_LET_IN = frozenset({LEVEL, CHARGED})


class Declaring(Protocol):
    """What of a step says its phase."""

    kind: str
    readings: Sequence[Mapping[str, Any]]
    requires: Mapping[str, Sequence[str]]
    opens: Sequence[str]
    answers: Mapping[str, Mapping[str, Any]]


def phase_of(step: Declaring) -> str:
    """The phase that a step belongs to, one of PHASES."""
    if step.kind == "proof":
        return PROVE
    left = {(part, value) for answer in step.answers.values() for part, value in (answer.get("leaves") or {}).items()}
    air = {value for part, value in left if part in CHAMBERS or PARTS[part].gas}
    inside = any(_INSIDE & {part} and set(wanted) & set(PARTS[part].opened) for part, wanted in step.requires.items())
    if step.kind == "check":
        return INSPECT if inside else AIR if air & (_LET_OUT | _LET_IN) else LOOK
    if air & _LET_OUT:
        return AIR
    if any(value in PARTS[part].opened for part, value in left if part != "brakes"):  # work at them leaves them untried
        return STRIP
    if left or inside or step.opens:
        return REBUILD
    return LOOK if step.readings else CLEAN


@dataclass(frozen=True)
class PlacedStep:
    """A step of the list with its place in the order that is followed, from 1."""

    place: int
    state: StepState
    only_if: str = ""
    """What would ask for it, in words, where nothing does so far."""


@dataclass(frozen=True)
class Phase:
    """A phase as the list shows it, with its steps in the order that is followed."""

    key: str
    steps: Sequence[PlacedStep]
    is_open: bool
    """Whether the step that is shown is one of them."""
    is_next: bool

    @property
    def label(self) -> str:
        return PHASES[self.key]

    @property
    def answered(self) -> int:
        return sum(1 for step in self.steps if step.state.tick)

    @property
    def asked(self) -> int:
        """Answered and to be answered, as the whole run counts."""
        return sum(1 for step in self.steps if not step.only_if)

    @property
    def is_done(self) -> bool:
        return self.answered == self.asked > 0 and not self.is_next


def phases_of(
    listed: Sequence[StepState], *, shown: str, coming: str | None, not_asked: Mapping[str, str]
) -> list[Phase]:
    """The phases that have steps, in the order of a job. `shown` and `coming`: keys of the open and the next step.

    `not_asked` has the words of steps that nothing asks for so far: they are listed, and not counted.
    """
    placed = [PlacedStep(place, state, not_asked.get(state.key, "")) for place, state in enumerate(listed, 1)]
    by_phase: dict[str, list[PlacedStep]] = {key: [] for key in PHASES}
    for step in placed:
        by_phase[phase_of(step.state.step)].append(step)
    return [
        Phase(
            key,
            steps,
            any(one.state.key == shown for one in steps),
            any(one.state.key == coming for one in steps),
        )
        for key, steps in by_phase.items()
        if steps
    ]
