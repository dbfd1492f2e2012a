"""The facts of a suspension unit that decide how it comes apart, and the words for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

FactValue = str | bool


@dataclass(frozen=True)
class Fact:
    """One fact: its key, the words the shop reads, and its allowed values with their words."""

    key: str
    label: str
    values: Mapping[FactValue, str]


_YES_NO: Mapping[FactValue, str] = {True: "yes", False: "no"}

FACTS: Mapping[str, Fact] = {
    fact.key: fact
    for fact in (
        Fact("kind", "Kind", {"fork": "fork", "shock": "rear shock"}),
        Fact("spring_kind", "Spring", {"air": "air", "coil": "coil", "air_coil": "coil with air assist"}),
        Fact("air_side", "Spring side", {"left": "left leg", "right": "right leg"}),
        Fact(
            "spring_retention",
            "Air spring held by",
            {
                "internal_circlip": "an internal circlip",
                "wire_ring": "a wire ring",
                "threaded_cap": "a threaded cap",
            },
        ),
        Fact("ramp_chamber", "Ramp-up chamber with a valve of its own", _YES_NO),
        Fact("crowns", "Crowns", {"single": "single crown", "twin": "twin crown"}),
        Fact("inverted", "Inverted, the thin tubes at the wheel", _YES_NO),
        Fact("foot_fastener", "Foot fasteners", {"bolt": "bolts", "nut": "nuts"}),
        Fact("crush_washers", "Crush washers", _YES_NO),
        Fact("bleed_buttons", "Bleed buttons", _YES_NO),
        Fact("foam_rings", "Foam rings", _YES_NO),
        Fact("self_equalising", "Self-equalising air spring", _YES_NO),
        Fact(
            "damper_kind",
            "Damper",
            {
                "sealed_cartridge": "sealed cartridge",
                "open_bath": "open bath",
                "closed_bladder": "closed with a bladder",
            },
        ),
        Fact(
            "reservoir",
            "Reservoir of the damper",
            {"inline": "none, an inline shock", "piggyback": "a piggyback", "hose": "on a hose of its own"},
        ),
        Fact("remote", "Remote", {"none": "none", "cable": "worked by a cable", "hose": "worked by a hose"}),
        Fact("gas_charge", "Gas charge in the damper", _YES_NO),
    )
}

MODEL_FACTS: Mapping[str, Fact] = {key: fact for key, fact in FACTS.items() if key != "gas_charge"}
"""Those that are a model's as well; the others are noted of each unit."""


AS_USUAL: Mapping[str, FactValue] = {
    "ramp_chamber": False,
    "crowns": "single",
    "inverted": False,
    "reservoir": "inline",
    "remote": "none",
}
"""What most units have of the facts that make one of a kind of its own."""

_OF_A_FORK = frozenset(
    {"air_side", "crowns", "inverted", "foot_fastener", "crush_washers", "bleed_buttons", "foam_rings"}
)
_OF_A_SHOCK = frozenset({"reservoir"})


def facts_of_kind(kind: str) -> list[str]:
    """The facts that a model of a kind can have: a shock has no crowns and lower legs to know things of."""
    of_others = _OF_A_SHOCK if kind == "fork" else _OF_A_FORK
    return [key for key in MODEL_FACTS if key not in of_others]


def choices(key: str) -> list[tuple[str, str]]:
    """Choices of a fact with string values, for a form or a model field."""
    return [(str(value), words) for value, words in FACTS[key].values.items()]


def with_side(label: str, key: str, air_side: FactValue | None) -> str:
    """The label of a quantity, with left or right where its key is of one leg and the side of the spring is known."""
    of_the_spring, of_the_damper = key.endswith("_air_leg"), key.endswith("_damper_leg")
    if air_side not in ("left", "right") or not (of_the_spring or of_the_damper):
        return label
    return f"{label} ({'left' if of_the_spring == (air_side == 'left') else 'right'})"
