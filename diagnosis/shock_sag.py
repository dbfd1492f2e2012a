"""What the sag of a shock says: at the wheel, of what the shock carries, and of the pressure for another sag. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from diagnosis.evidence import Evidence, Writer
from specs.lookup import GeometryGap
from specs.physics.air_can import AirCan, can_force, can_pressure_for_sag
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.errors import ImpossibleValue
from specs.physics.leverage import load_at_wheel, share_of_mass, shock_travel, wheel_travel

# A seated rider's share on the rear wheel: outside these something was read wrongly. Common practice, no published
# source.
LEAST_SHARE, MOST_SHARE = 0.35, 0.95
SHARE_WORDS = "common practice, no published source"


@dataclass(frozen=True)
class Leverage:
    """How far the wheel goes for what the shock does, and the words for it; without a ratio, why there is none."""

    ratio: float | None
    words: str


@dataclass(frozen=True)
class ShockRead:
    """What was read of a shock with the rider on, and what is known of it. Gauge pressure; None where not known."""

    sag_m: float
    stroke_m: float
    pressure_pa: float | None = None
    sag_range_m: tuple[float, float] | None = None
    rider_mass_kg: float | None = None


def shock_sag_evidence(
    read: ShockRead,
    *,
    leverage: Leverage,
    can: AirCan | GeometryGap | None,
    can_words: str,
    write: Writer,
    ambient_pa: float = SEA_LEVEL_PA,
) -> list[Evidence]:
    """The sag at the wheel, then what the can says of it.

    `can` is None for a coil; `can_words` says where its values are from.
    """
    found = [_at_the_wheel(read, leverage, write)]
    if can is None:
        return found
    if isinstance(can, GeometryGap):
        why = can.reason or f"Missing from the specs: {', '.join(can.labels).lower()}."
        return [*found, Evidence("unsure", "The pressure for another sag is not computed.", why)]
    if read.pressure_pa is None:
        why = "The pressure it holds was not read at a proof."
        return [*found, Evidence("unsure", "The pressure for another sag is not computed.", why)]
    return [*found, _of_the_can(read, read.pressure_pa, leverage.ratio, can, can_words, write, ambient_pa)]


def _at_the_wheel(read: ShockRead, leverage: Leverage, write: Writer) -> Evidence:
    if leverage.ratio is None:
        return Evidence("unsure", "At the wheel: not known.", leverage.words)
    at_wheel, whole = (
        write(round(wheel_travel(depth_m, leverage.ratio), 4), "length") for depth_m in (read.sag_m, read.stroke_m)
    )
    yardstick = f"Leverage {leverage.words}, the mean over the travel."
    sag = write(read.sag_m, "length")
    meant_m = shock_travel(read.sag_m, leverage.ratio)
    if read.sag_range_m and read.sag_m > read.sag_range_m[1] and _within(meant_m, read.sag_range_m):
        text = f"{sag} at the wheel is {write(round(meant_m, 4), 'length')} at the shock. Enter what the shock shows."
        return Evidence("off", "Was it measured at the wheel?", text, yardstick)
    return Evidence("fits", "At the wheel:", f"{at_wheel} of {whole}, for {sag} at the shock.", yardstick)


def _of_the_can(
    read: ShockRead,
    pressure_pa: float,
    ratio: float | None,
    can: AirCan,
    can_words: str,
    write: Writer,
    ambient_pa: float,
) -> Evidence:
    held, sag = write(pressure_pa, "pressure"), write(read.sag_m, "length")
    try:
        load_n = can_force(can, pressure_pa, read.sag_m, ambient_pa=ambient_pa)
    except ImpossibleValue as impossible:
        return Evidence("unsure", "It cannot be computed.", f"{impossible.reason[:1].upper()}{impossible.reason[1:]}.")
    if load_n <= 0:
        text = f"At {held} this can carries nothing {sag} in. Read the sag and the pressure again."
        return Evidence("off", "These do not fit together.", text, can_words)
    carries = f"At {held} the can carries {write(load_n, 'force')} where it stands, {sag} in"
    said = [f"{carries}."]
    if ratio is not None:
        wheel_n = load_at_wheel(load_n, ratio)
        said = [f"{carries}: {write(wheel_n, 'force')} at the wheel."]
        if read.rider_mass_kg is not None:
            share = share_of_mass(wheel_n, read.rider_mass_kg)
            rider = f"{write(round(share, 2), 'fraction')} of the rider’s {write(read.rider_mass_kg, 'mass')}"
            said.append(f"That is {rider}.")
            if not LEAST_SHARE <= share <= MOST_SHARE:
                text = f"{' '.join(said)} {_slip(share)}"
                return Evidence("off", "These do not fit together.", text, f"{can_words} {_seated()}")
    said += _for_the_range(read, load_n, can, write, ambient_pa)
    return Evidence("fits", "What it carries:", " ".join(said), can_words)


def _slip(share: float) -> str:
    """What is likeliest wrong where the wheel would carry far too much or too little of the rider."""
    if share > MOST_SHARE:
        return "Too much for a rear wheel: was the sag measured at the wheel, or is the leverage too small?"
    return "Too little for a rear wheel: is the leverage too great, or did the rider stand or hold on to something?"


def _seated() -> str:
    return f"Seated, {LEAST_SHARE:.0%} to {MOST_SHARE:.0%} of the rider is on the rear wheel ({SHARE_WORDS})."


def _for_the_range(read: ShockRead, load_n: float, can: AirCan, write: Writer, ambient_pa: float) -> list[str]:
    """The pressures for the ends of the range that is wanted; never one above the maximum."""
    if read.sag_range_m is None:
        return ["The sag that it is to have is not in the specs."]
    words = []
    for sag_m in read.sag_range_m:
        sag = f"{write(sag_m, 'length')} of sag"
        try:
            pressure_pa = can_pressure_for_sag(can, load_n, sag_m, ambient_pa=ambient_pa)
        except ImpossibleValue as impossible:
            words.append(f"{sag}: {impossible.reason}")
        else:
            words.append(f"{sag} takes {write(pressure_pa, 'pressure')}")
    return [f"For this rider {', '.join(words)}. Never above the maximum, {write(can.max_pressure_pa, 'pressure')}."]


def _within(depth_m: float, limits_m: tuple[float, float]) -> bool:
    return limits_m[0] <= depth_m <= limits_m[1]
