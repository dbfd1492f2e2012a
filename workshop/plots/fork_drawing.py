"""A plain drawing of a fork cut open, with a ring round the place where a cause sits.

`templates/plots/fork.svg` draws it: no fork in particular and not to scale, for which leg holds what differs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext, gettext_noop


@dataclass(frozen=True)
class DrawnPlace:
    """A place of the drawing, in its units of a 240 by 260 picture, with the size of its ring and its words."""

    x: int
    y: int
    ring: int
    words: str


_VALVE = DrawnPlace(82, 22, 12, gettext_noop("the valve under the top cap"))
_CHAMBER = DrawnPlace(82, 62, 16, gettext_noop("the air chamber"))
_PISTON = DrawnPlace(82, 104, 14, gettext_noop("the seal of the air piston"))
_PORT = DrawnPlace(71, 104, 11, gettext_noop("the small passage beside the air piston"))
_SHAFT_SEAL = DrawnPlace(82, 146, 14, gettext_noop("the seal where the air shaft comes out"))
_WIPER = DrawnPlace(82, 130, 20, gettext_noop("the wiper where the tubes slide in"))
_BUSHING = DrawnPlace(158, 152, 18, gettext_noop("the bushings that the tubes slide in"))
_TUBE = DrawnPlace(158, 112, 18, gettext_noop("the tube that slides"))
_LEG = DrawnPlace(82, 188, 20, gettext_noop("the space in the lower leg"))
_FOOT = DrawnPlace(82, 230, 13, gettext_noop("the fastener at the foot"))
_DAMPER = DrawnPlace(158, 74, 20, gettext_noop("the damper"))
_AXLE = DrawnPlace(120, 244, 15, gettext_noop("the axle"))

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
    return gettext("Drawing of a fork cut open: a ring marks %(place)s.") % {"place": gettext(place.words)}
