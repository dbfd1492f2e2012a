"""Parts whose life is told, and what makes one new besides the steps that say so.

Common practice, no published source. A part put in begins a life; so does a service that renews the part itself, as a
lowers service renews the oil, and a step whose checklist says that it makes the part new. A service that only looks at
a part begins none and ends none. What ends one is in `worn.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from diagnosis.declared import LIVES
from specs.models import Part, ServiceKit

Role, Level = Part.Role, ServiceKit.Level
_EVERY_LEVEL_FROM: Mapping[str, tuple[str, ...]] = {
    Level.LOWERS: (Level.LOWERS, Level.SPRING, Level.FULL),
    Level.SPRING: (Level.SPRING, Level.FULL),
    Level.FULL: (Level.FULL,),
}


@dataclass(frozen=True)
class Component:
    """A part that wears: its words, and the parts put in and the services that renew it."""

    key: str
    renewed_by_parts: tuple[str, ...]
    renewed_by_levels: tuple[str, ...]
    begins_words: str

    @property
    def title(self) -> str:
        return LIVES[self.key]


COMPONENTS: tuple[Component, ...] = (
    Component("wipers", (Role.WIPER,), (), "when a wiper was put in"),
    Component("lower-oil", (), _EVERY_LEVEL_FROM[Level.LOWERS], "at a lowers service or a larger one"),
    Component("spring-seals", (Role.AIR_SPRING, Role.SPRING_SEAL), (), "when a seal kit or a whole spring was put in"),
    Component(
        "spring-grease",
        (Role.AIR_SPRING,),
        _EVERY_LEVEL_FROM[Level.SPRING],
        "at a spring service or a larger one",
    ),
    Component("bushings", (Role.BUSHING,), (), "when bushings were put in"),
    Component(
        "damper",
        (Role.DAMPER, Role.DAMPER_SEAL),
        _EVERY_LEVEL_FROM[Level.FULL],
        "at a full service, or when the damper or its seals were put in",
    ),
)
WORN_WITH_ROLE: Mapping[str, tuple[str, ...]] = {
    role: tuple(component.key for component in COMPONENTS if role in component.renewed_by_parts)
    for role in (Role.WIPER, Role.SPRING_SEAL, Role.BUSHING, Role.DAMPER, Role.DAMPER_SEAL)
}
"""What is bad where a finding asks for a part of a role. A whole spring is no such part: it may be one that fits."""
ROLES_THAT_BEGIN_A_LIFE = frozenset(role for component in COMPONENTS for role in component.renewed_by_parts)
