"""A unit of each kind that a checklist has to ask for, by its invented model, and what it came in with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class DemoKind:
    """What the customer says, of which complaint, and the settings as it came in: psi, mm and clicks, all invented.

    `spacers` and `psi` are None where the unit has none, as a coil has no pressure.
    """

    words: str
    complaint: str
    psi: float | None
    sag_mm: float
    rest_mm: float
    rebound: int
    compression: int
    spacers: int | None = None
    remarks: str = ""


KINDS: Mapping[str, DemoKind] = {
    "Scarp": DemoKind(  # twin crown
        "The front knocks when I brake on the steep bits.", "knocks-or-play", 74, 38, 4, 6, 5, 1,
        "Twin crown, legs 4 mm out of the upper crown",
    ),
    "Whimbrel": DemoKind(  # a negative valve of its own, and a remote
        "Soft again a week after I pump it up.", "loses-air", 92, 20, 3, 7, 4, None,
        "Two valves, the lower one read 88 psi. Lockout by a lever on the bars",
    ),
    "Menhir": DemoKind(  # ramp-up chamber
        "It is due for its service, nothing wrong with it.", "routine-lowers", 70, 34, 4, 8, 6, None,
        "Ramp-up chamber read 135 psi at its own valve",
    ),
    "Heron": DemoKind(  # inverted
        "It is due for its service, nothing wrong with it.", "routine-lowers", 66, 30, 3, 7, 5, 0, "Inverted",
    ),
    "Fathom": DemoKind(  # coil with air assist
        "Feels dry on small bumps.", "harsh-or-sticky", 22, 36, 0, 6, 6, None, "Coil, with a little air to help it",
    ),
    "Cairn": DemoKind(  # piggyback, gas-charged
        "The shock is soft again after a week.", "shock-loses-air", 182, 17, 2, 7, 3, 1, "Piggyback, gas-charged",
    ),
    "Ferry": DemoKind(  # inline
        "It is due for its service, nothing wrong with it.", "routine-air-can", 165, 13, 2, 6, 2, 0, "Inline",
    ),
    "Weir": DemoKind(  # coil shock with piggyback and remote
        "The back sits deep and feels dead.", "shock-sits-low", None, 22, 0, 8, 6, None,
        "Coil 500 × 65, remote by a cable",
    ),
}  # fmt: skip
"""By the name of its model. They stand apart from the models that the demo's units are drawn from."""
