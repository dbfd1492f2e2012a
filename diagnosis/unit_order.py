"""Which steps bring about a condition of the unit, and which would only open it, or close what is closed. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TypeVar

from diagnosis.layout_plans import PROOF, WORK
from diagnosis.unit_parts import EMPTY, PARTS, allowed_values
from diagnosis.unit_state import DONE, UNSURE, StateStep, UnitState, effects

_S = TypeVar("_S", bound=StateStep)


def brought_about_by(part: str, allowed: Collection[str], steps: Sequence[_S]) -> list[_S]:
    """Work, then proofs, of which a plain answer leaves the part as is allowed, in handbook order.

    A check is a question, so it is never asked again for what it does on the way.
    """
    return [
        step
        for kind in (WORK, PROOF)
        for step in steps
        if step.kind == kind
        and any(
            (answer.get("leaves") or {}).get(part) in allowed
            for given, answer in (step.answers or {}).items()
            if given not in UNSURE
        )
    ]


def opens_up(step: StateStep, unit: UnitState) -> bool:
    """Whether work would leave something open that is shut now."""
    return step.kind == WORK and any(
        part in unit.conditions and PARTS[part].is_closed(unit.conditions[part]) and is_opening(part, value)
        for part, value in effects(step, DONE).items()
    )


def opens_on_the_way(step: StateStep, unit: UnitState) -> bool:
    """Whether work opens something that is shut now, and closes it again itself."""
    return step.kind == WORK and any(
        part in unit.conditions and PARTS[part].is_closed(unit.conditions[part]) for part in step.opens or ()
    )


def asks_to_open(step: StateStep, unit: UnitState) -> bool:
    """Whether something that is shut now would have to be opened for the step."""
    return any(
        part in unit.conditions
        and PARTS[part].is_closed(unit.conditions[part])
        and not any(PARTS[part].is_closed(value) for value in allowed_values(part, words))
        for part, words in (step.requires or {}).items()
    )


def closes_nothing(step: StateStep, unit: UnitState) -> bool:
    """Whether work only closes, and everything that it closes is closed now."""
    if step.kind != WORK:
        return False
    left = {part: value for part, value in effects(step, DONE).items() if part in unit.conditions}
    left = {part: value for part, value in left.items() if not PARTS[part].tried}  # what is tried is asked by its proof
    return any(PARTS[part].is_closed(value) and not PARTS[part].finding for part, value in left.items()) and all(
        PARTS[part].is_closed(unit.conditions[part]) and not is_opening(part, value) for part, value in left.items()
    )


def is_opening(part: str, value: str) -> bool:
    """Whether a condition is one that somebody opens a part to, and not only in doubt."""
    return value == EMPTY if PARTS[part].chamber else value in PARTS[part].opened
