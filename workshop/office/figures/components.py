"""Parts whose life is told: what makes one new, and which findings say that it is bad.

Common practice, no published source. A part put in begins a life; so does a service that renews the part itself, as a
lowers service renews the oil. A service that only looks at a part begins none and ends none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from specs.models import Part, ServiceKit

Role, Level = Part.Role, ServiceKit.Level
_EVERY_LEVEL_FROM: Mapping[str, tuple[str, ...]] = {
    Level.LOWERS: (Level.LOWERS, Level.SPRING, Level.FULL),
    Level.SPRING: (Level.SPRING, Level.FULL),
    Level.FULL: (Level.FULL,),
}


@dataclass(frozen=True)
class Component:
    """A part that wears: its words, what renews it, and the causes (by key) that say it is bad."""

    key: str
    title: str
    renewed_by_parts: tuple[str, ...]
    renewed_by_levels: tuple[str, ...]
    found_bad: tuple[str, ...]
    begins_words: str


COMPONENTS: tuple[Component, ...] = (
    Component("wipers", "Wipers", (Role.WIPER,), (), ("wiper-worn",), "when a wiper was put in"),
    Component(
        "lower-oil",
        "Oil in the lower legs",
        (),
        _EVERY_LEVEL_FROM[Level.LOWERS],
        ("dry-lowers",),
        "at a lowers service or a larger one",
    ),
    Component(
        "spring-seals",
        "Seals of the air spring",
        (Role.AIR_SPRING, Role.SPRING_SEAL),
        (),
        ("worn-piston-seal", "seal-head-leak", "top-cap-seal", "can-outer-seal", "can-piston-seal"),
        "when a seal kit or a whole spring was put in",
    ),
    Component(
        "spring-grease",
        "Grease in the air spring",
        (Role.AIR_SPRING,),
        _EVERY_LEVEL_FROM[Level.SPRING],
        ("port-blocked", "shock-port-blocked", "spring-grease-dry"),
        "at a spring service or a larger one",
    ),
    Component("bushings", "Bushings", (Role.BUSHING,), (), ("bushing-worn",), "when bushings were put in"),
    Component(
        "damper",
        "Damper oil and seals",
        (Role.DAMPER, Role.DAMPER_SEAL),
        _EVERY_LEVEL_FROM[Level.FULL],
        ("damper-oil-old", "damper-seal-leak", "damper-air", "bladder-burst"),
        "at a full service, or when the damper or its seals were put in",
    ),
)
CAUSES_THAT_END_A_LIFE = frozenset(cause for component in COMPONENTS for cause in component.found_bad)
ROLES_THAT_BEGIN_A_LIFE = frozenset(role for component in COMPONENTS for role in component.renewed_by_parts)
