"""What a mechanic can say of the unit beside ticking a step: that a part is otherwise than the ticks have it. Pure.

It changes the state as a step would, and makes a thing as sure as somebody's word and no surer. So a proof is never
set by it: that the air is out, that the ring holds, that the brake was tried, that gas is in. Neither is what asks for
a reading or a record: a critical bolt that is tight, oil in the legs, new seals. And every proof of the part is older
than what was said, so that it has to be made again. Common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import CHAMBERS, CHARGED, LEVEL, PARTS, UNKNOWN, UnitPart
from diagnosis.unit_state import StateStep

TOLD = "told"
LONGEST_NOTE = 400
_PROVED = frozenset({"proved", "tried", LEVEL})
_READ = frozenset({"oil"})


@dataclass(frozen=True)
class Told:
    """That a part is in a condition, as something that happened to the unit: to the rules it is a step like others."""

    part: str
    value: str
    kind: str = TOLD
    requires: Mapping[str, Sequence[str]] = field(default_factory=dict)
    proves: Sequence[str] = ()

    @property
    def key(self) -> str:
        return f"{self.part}={self.value}"

    @property
    def title(self) -> str:
        return PARTS[self.part].in_words(self.value)

    @property
    def opens(self) -> tuple[str, ...]:
        """Whatever it says, an older proof of the part holds no more. Said of one air chamber, it is said of both."""
        return CHAMBERS if PARTS[self.part].chamber else (self.part,)

    @property
    def answers(self) -> Mapping[str, Mapping[str, Mapping[str, str]]]:
        return {TOLD: {"leaves": dict.fromkeys(self.opens, self.value)}}


def conditions_to_tell(part: str) -> tuple[str, ...]:
    """The conditions of a part that somebody's word is enough for, not known the last; both air chambers are one."""
    if part in CHAMBERS[1:]:
        return ()
    one = PARTS[part]
    return (*(value for value in one.values if _is_enough(one, value)), UNKNOWN)


def _is_enough(one: UnitPart, value: str) -> bool:
    if one.chamber:
        return value == CHARGED
    if one.is_closed(value):
        return value not in _PROVED and not (one.bolts or one.torque or one.finding or one.gas or one.key in _READ)
    return not one.gas


def can_be_told(steps: Sequence[StateStep]) -> dict[str, tuple[str, ...]]:
    """What can be said on a unit for which these steps are, by part: of those that a step of theirs closes again."""
    closed = [part for part in PARTS if brought_about_by(part, PARTS[part].closed, steps)]
    return {part: values for part in closed if (values := conditions_to_tell(part))}
