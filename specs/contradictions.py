"""Facts of a unit that cannot all be true, each said at the field where it was likely meant otherwise. Pure.

What cannot be together is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from specs.facts import FactValue

COILS = ("coil", "air_coil")

COIL_WITH_PORT = "A coil has no second air chamber, so nothing levels through a port. One of the two is wrong."
COIL_WITH_RAMP = "A coil has no ramp-up chamber. One of the two is wrong."
INVERTED_WITH_BUTTONS = (
    "Bleed buttons are on lowers, and an inverted fork has thin tubes there. One of the two is wrong."
)
SHOCK_WITH_CROWNS = "A rear shock has no crown. Leave this not known, or say that it is a fork."
SHOCK_INVERTED = "Only a fork is inverted. Leave this not known, or say that it is a fork."
FORK_WITH_RESERVOIR = "A reservoir is noted of rear shocks only. Leave this not known, or say that it is a shock."

_CONTRADICTIONS: tuple[tuple[str, Mapping[str, Collection[FactValue]], str], ...] = (
    ("self_equalising", {"spring_kind": COILS, "self_equalising": (True,)}, COIL_WITH_PORT),
    ("ramp_chamber", {"spring_kind": COILS, "ramp_chamber": (True,)}, COIL_WITH_RAMP),
    ("bleed_buttons", {"inverted": (True,), "bleed_buttons": (True,)}, INVERTED_WITH_BUTTONS),
    ("crowns", {"kind": ("shock",), "crowns": ("single", "twin")}, SHOCK_WITH_CROWNS),
    ("inverted", {"kind": ("shock",), "inverted": (True,)}, SHOCK_INVERTED),
    ("reservoir", {"kind": ("fork",), "reservoir": ("inline", "piggyback", "hose")}, FORK_WITH_RESERVOIR),
)


USUAL_TWIN_CROWN_MM = 170
"""Twin crowns are built from some 180 mm of travel; a few old and odd ones have less, so it is asked, not refused."""

DOUBTFUL_TWIN_CROWN = (
    "A fork of so little travel usually has one crown, and its stem alone clamps the steerer. A twin crown holds the "
    "legs at a second one above. Look, then tick that it is meant, or choose another."
)


def is_doubtful_twin_crown(facts: Mapping[str, FactValue | None], travels_mm: Collection[float]) -> bool:
    """Whether a twin crown is noted of a fork of so little travel that a single stem clamp is likelier."""
    return facts.get("crowns") == "twin" and bool(travels_mm) and max(travels_mm) < USUAL_TWIN_CROWN_MM


def contradictions(facts: Mapping[str, FactValue | None]) -> dict[str, str]:
    """Field to reason, for each pair of known facts that cannot both be true; empty where all can."""
    return {
        field: reason
        for field, together, reason in _CONTRADICTIONS
        if all(facts.get(fact) in values for fact, values in together.items())
    }
