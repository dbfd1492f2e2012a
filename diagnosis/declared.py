"""What a step, a reading or a cause can declare, so that no rule has to know one by its key. Pure.

A checklist says in its file which step puts together again what another took apart, which service a step is part of,
what a reading is of, what a step makes new, and what a cause says is worn out. An owner's own steps say it the same
way, under keys of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

LOWERS, SPRING, FULL = "lowers", "spring", "full"
SERVICES: Mapping[str, str] = {LOWERS: "Lowers service", SPRING: "Spring service", FULL: "Full service"}
"""The services that a step can be part of."""

LIVES: Mapping[str, str] = {
    "wipers": "Wipers",
    "lower-oil": "Oil in the lower legs",
    "spring-seals": "Seals of the air spring",
    "spring-grease": "Grease in the air spring",
    "bushings": "Bushings",
    "damper": "Damper oil and seals",
}
"""The parts whose life is told: a step that makes one new begins a life, a cause that says it is worn out ends it."""

BY_HAND, AT_MAXIMUM = "by_hand", "at_maximum"
PORT_TRIES: Mapping[str, str] = {BY_HAND: "by hand", AT_MAXIMUM: "at the maximum pressure"}
"""How a check tries to free the port of an air spring; the readings say beforehand whether that will work."""

REST_DEPTH, ARRIVAL_PRESSURE = "rest_depth", "arrival_pressure"
PRESSURE_SET, PRESSURE_AFTER_WAIT = "pressure_set", "pressure_after_wait"
SAG, REBOUND_CLICKS, COMPRESSION_CLICKS = "sag", "rebound_clicks", "compression_clicks"
WHEEL_MASS, LOWERS_MASS, CALIPER_MASS, HEAD_ANGLE = "wheel_mass", "lowers_mass", "caliper_mass", "head_angle"
REST_PUSHED, REST_PULLED, REST_PRESSURE = "rest_pushed", "rest_pulled", "rest_pressure"
PULL = "pull"


@dataclass(frozen=True)
class Measure:
    """What a reading can be of: its words, and the quantity it is measured in."""

    label: str
    quantity: str


MEASURES: Mapping[str, Measure] = {
    REST_DEPTH: Measure("the rest depth, for the spring’s answer and the proof", "length"),
    ARRIVAL_PRESSURE: Measure("the pressure as it came in, for the spring’s answer", "pressure"),
    PRESSURE_SET: Measure("the pressure that was set, for the proof", "pressure"),
    PRESSURE_AFTER_WAIT: Measure("the pressure after waiting, for the proof", "pressure"),
    REST_PRESSURE: Measure("the pump reading at a new rest depth, for the spring’s answer", "pressure"),
    PULL: Measure("the pull it took to free the port, held against what the spring can need", "force"),
    REST_PUSHED: Measure("the rest depth after pushing it down, for the friction", "length"),
    REST_PULLED: Measure("the rest depth after pulling it up, for the friction", "length"),
    WHEEL_MASS: Measure("what hangs on the fork: the wheel", "mass"),
    LOWERS_MASS: Measure("what hangs on the fork: the lowers", "mass"),
    CALIPER_MASS: Measure("what hangs on the fork: the brake", "mass"),
    HEAD_ANGLE: Measure("the head angle, for what hangs on the fork", "angle"),
    SAG: Measure("the sag", "length"),
    REBOUND_CLICKS: Measure("rebound clicks", "clicks"),
    COMPRESSION_CLICKS: Measure("compression clicks", "clicks"),
    "foot_torque_air_leg": Measure("the torque of a safety-critical bolt: foot fastener, spring side", "torque"),
    "foot_torque_damper_leg": Measure("the torque of a safety-critical bolt: foot fastener, damper side", "torque"),
    "axle_torque": Measure("the torque of a safety-critical bolt: axle", "torque"),
    "caliper_torque": Measure("the torque of a safety-critical bolt: caliper bolts", "torque"),
    "stem_torque": Measure("the torque of a safety-critical bolt: stem bolts", "torque"),
    "upper_crown_torque": Measure("the torque of a safety-critical bolt: upper crown", "torque"),
    "lower_crown_torque": Measure("the torque of a safety-critical bolt: lower crown", "torque"),
    "steerer_clamp_torque": Measure("the torque of a safety-critical bolt: clamp of the steerer", "torque"),
}
"""The readings that the app reckons with. The torque of a bolt is named for the spec quantity that holds its value."""


ASSUMED_UNLESS_READ = frozenset({WHEEL_MASS, LOWERS_MASS, CALIPER_MASS, HEAD_ANGLE, REST_PUSHED, REST_PULLED})
"""What the spring’s answer takes a usual value for until somebody reads it; such fields stand folded."""


# The maximum of a chamber with a valve of its own, and the fact that says there is none.
_WITHOUT_VALVE: Mapping[Any, tuple[str, bool]] = {
    "max_pressure_negative": ("self_equalising", True),
    "max_pressure_ramp": ("ramp_chamber", False),
}
_OF_AN_AIR_SPRING = ASSUMED_UNLESS_READ | {REST_PRESSURE}


def asked_on(plan: Mapping[str, Any], facts: Mapping[str, Any]) -> bool:
    """Whether a reading is asked for on a unit of these facts: what an air spring's answer needs is not on a coil, and
    a chamber that the unit lacks has no pressure. What nobody knows is asked.
    """
    if plan.get("most") in _WITHOUT_VALVE:
        fact, lacking = _WITHOUT_VALVE[plan["most"]]
        return facts.get(fact) is not lacking
    return plan.get("measures") not in _OF_AN_AIR_SPRING or facts.get("spring_kind") != "coil"


def key_measuring(readings: Iterable[Mapping[str, Any]], measures: str) -> str | None:
    """The key of the reading, among those of a step, that is of this; None if none is."""
    return next((reading["key"] for reading in readings if reading.get("measures") == measures), None)


def measured_by_key(readings: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """What each reading of a step is of, by its key; those that are only noted are left out."""
    return {reading["key"]: reading["measures"] for reading in readings if reading.get("measures")}
