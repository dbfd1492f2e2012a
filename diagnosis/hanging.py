"""What hangs on a fork while its rest is read, from what is mounted and what was weighed. Pure.

Wheel, lower legs and brake pull a hanging fork out and move a healthy rest by millimetres. What nobody weighed is
assumed and said to be so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from diagnosis.declared import CALIPER_MASS, HEAD_ANGLE, LOWERS_MASS, WHEEL_MASS
from specs.physics.air_spring import AirSpring, Band, axle_load_along_fork, healthy_band
from specs.units import from_si, show

# Front wheel with tyre, disc and axle; both lowers with their oil; caliper with its pads. Common practice, no
# published source.
USUAL_KG: Mapping[str, float] = {WHEEL_MASS: 2.0, LOWERS_MASS: 0.75, CALIPER_MASS: 0.15}
USUAL_HEAD_ANGLE_DEG = 65.0
# How far an assumed mass may be off, either way; common practice, no published source.
SHARE_OFF = 0.3
UPRIGHT_DEG = 90.0
STANDARD_GRAVITY = 9.80665
"""m/s² (NIST SP 811)."""

_NAMED: Mapping[str, str] = {WHEEL_MASS: "wheel", LOWERS_MASS: "lowers", CALIPER_MASS: "brake"}


@dataclass(frozen=True)
class Mounted:
    """What is on the fork while it hangs. A fork that came without a bike hangs straight and has no wheel or brake."""

    wheel: bool = True
    lowers: bool = True
    caliper: bool = True
    on_a_bike: bool = True


@dataclass(frozen=True)
class Hanging:
    """What pulls a hanging fork out (N along its axis), with the range that assumed masses leave; in words."""

    newtons: Band
    words: str
    is_assumed: bool = True
    short: str = ""


NOTHING_HANGS = Hanging(Band(0.0, 0.0, 0.0), "Nothing is taken to hang on it.", False, "nothing hangs on it")


def what_hangs(mounted: Mounted, measured: Mapping[str, float], unit_for: Callable[[str], str]) -> Hanging:
    """From what is mounted, and by measure (`diagnosis.declared`) what was weighed (kg) or measured (radians)."""
    on = {
        WHEEL_MASS: mounted.wheel and mounted.on_a_bike,
        LOWERS_MASS: mounted.lowers,
        CALIPER_MASS: mounted.caliper and mounted.on_a_bike,
    }
    hung = [key for key, is_on in on.items() if is_on]
    if not hung:
        return NOTHING_HANGS
    angle_deg, angle_words = _angle(mounted, measured)
    low_kg = mid_kg = high_kg = 0.0
    for key in hung:
        usual = USUAL_KG[key]
        mass_kg, off = (measured[key], 0.0) if key in measured else (usual, SHARE_OFF * usual)
        low_kg, mid_kg, high_kg = low_kg + mass_kg - off, mid_kg + mass_kg, high_kg + mass_kg + off
    newtons = Band(
        *(axle_load_along_fork(mass_kg * STANDARD_GRAVITY, angle_deg) for mass_kg in (low_kg, mid_kg, high_kg))
    )
    unit = unit_for("mass")
    listed = [
        f"{_NAMED[key]} {_mass(measured.get(key, USUAL_KG[key]), unit)}{' weighed' if key in measured else ''}"
        for key in hung
    ]
    along = show(round(newtons.mid, 0), "force", unit_for("force"))
    assumed = any(key not in measured for key in hung)
    end = " What was not weighed is assumed (common practice, no published source)." if assumed else ""
    words = f"Hanging on it: {', '.join([*listed, *angle_words])}, {along} along the fork.{end}"
    names = ", ".join(_NAMED[key] for key in hung)
    short = f"{_mass(mid_kg, unit)} hangs on it ({names}){', assumed' if assumed else ', weighed'}"
    return Hanging(newtons, words, assumed, short)


def _mass(mass_kg: float, unit: str) -> str:
    return f"{from_si(mass_kg, 'mass', unit):.3g} {unit}"


def healthy_hanging(spring: AirSpring, pressure_pa: float, hanging: Hanging, *, ambient_pa: float) -> Band:
    """Where a healthy fork may rest with that hanging on it: what assumed masses may be off by widens the band."""
    most, mid, least = (
        healthy_band(spring, pressure_pa, ambient_pa=ambient_pa, hanging_n=newtons)
        for newtons in (hanging.newtons.high, hanging.newtons.mid, hanging.newtons.low)
    )
    return Band(most.low, mid.mid, least.high)


def _angle(mounted: Mounted, measured: Mapping[str, float]) -> tuple[float, list[str]]:
    if HEAD_ANGLE in measured:
        angle_deg = from_si(measured[HEAD_ANGLE], "angle", "°")
        return angle_deg, [f"head angle {angle_deg:.4g}°"]
    if not mounted.on_a_bike:
        return UPRIGHT_DEG, ["hung straight down"]
    return USUAL_HEAD_ANGLE_DEG, [f"head angle {USUAL_HEAD_ANGLE_DEG:.4g}°"]
