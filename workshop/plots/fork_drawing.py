"""A plain drawing of a fork cut open, with a ring round the place where a cause sits.

`templates/plots/fork.svg` draws it: no fork in particular and not to scale, for which leg holds what differs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class DrawnPlace:
    """A place of the drawing, in its units of a 240 by 260 picture, with the size of its ring and its words."""

    x: int
    y: int
    ring: int
    words: str


_VALVE = DrawnPlace(82, 22, 12, "the valve under the top cap")
_CHAMBER = DrawnPlace(82, 62, 16, "the air chamber")
_PISTON = DrawnPlace(82, 104, 14, "the seal of the air piston")
_PORT = DrawnPlace(71, 104, 11, "the small passage beside the air piston")
_SHAFT_SEAL = DrawnPlace(82, 146, 14, "the seal where the air shaft comes out")
_WIPER = DrawnPlace(82, 130, 20, "the wiper where the tubes slide in")
_BUSHING = DrawnPlace(158, 152, 18, "the bushings that the tubes slide in")
_TUBE = DrawnPlace(158, 112, 18, "the tube that slides")
_LEG = DrawnPlace(82, 188, 20, "the space in the lower leg")
_FOOT = DrawnPlace(82, 230, 13, "the fastener at the foot")
_DAMPER = DrawnPlace(158, 74, 20, "the damper")
_AXLE = DrawnPlace(120, 244, 15, "the axle")

PLACE_OF: Mapping[str, DrawnPlace] = {
    **dict.fromkeys(["top-cap-seal", "valve-body-leak", "valve-core-leak"], _VALVE),
    **dict.fromkeys(["low-pressure", "pressure-high", "too-many-spacers", "spring-grease-dry"], _CHAMBER),
    **dict.fromkeys(["worn-piston-seal", "bore-scored", "negative-starved", "wrong-travel-spring"], _PISTON),
    "port-blocked": _PORT,
    "seal-head-leak": _SHAFT_SEAL,
    **dict.fromkeys(["wiper-drag", "wiper-worn", "wiper-crept", "dirt-under-lip", "normal-film"], _WIPER),
    **dict.fromkeys(["bushing-bind", "bushing-worn"], _BUSHING),
    "stanchion-damage": _TUBE,
    **dict.fromkeys(["leg-pressure", "leg-vacuum", "overfilled-leg", "dry-lowers"], _LEG),
    **dict.fromkeys(["foot-fastener-loose", "foot-seal-leak"], _FOOT),
    **dict.fromkeys(["damper-air", "damper-holds-down", "damper-oil-old", "damper-overfilled"], _DAMPER),
    **dict.fromkeys(
        ["damper-seal-leak", "damper-shaft-bent", "damper-top-out", "valve-dirty", "damper-knock"], _DAMPER
    ),
    **dict.fromkeys(["axle-bind", "axle-loose"], _AXLE),
}
"""Where the causes of the shipped checklists sit in a fork; one that is not named has no drawing."""


def place_of(cause: str, kind: str) -> DrawnPlace | None:
    """Where a cause sits in the drawing; none for a shock, and for a cause without one place."""
    return PLACE_OF.get(cause) if kind == "fork" else None


def drawing_in_words(place: DrawnPlace) -> str:
    return f"Drawing of a fork cut open: a ring marks {place.words}."
