"""Readings put through the physics into findings a mechanic can act on.

Everything takes SI floats and a `Writer` that writes them as the shop reads them, and gives words. Pure.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from diagnosis.hanging import NOTHING_HANGS, Hanging, healthy_hanging
from specs.lookup import GeometryGap
from specs.physics.air_spring import (
    AirSpring,
    Band,
    ImpossibleValue,
)
from specs.physics.pressure import after_hose

Writer = Callable[[float, str], str]
"""Writes an SI magnitude of a dimension in the shop's unit, such as (0.004, "length") -> "4 mm"."""

Standing = Literal["fits", "off", "unsure"]

# Three to five millimetres of dip: common practice for a spring with a port, no published source.
USUAL_DIP_M = Band(0.003, 0.004, 0.005)
USUAL_DIP_WORDS = "common practice, no published source"
# What a shock pump's gauge can be read to, either way: common practice, no published source.
GAUGE_READING_PA = 2 * 6894.757293168361
GAUGE_READING_SHARE = 0.02
# Air a hose takes each time it is screwed on: typical shock pump, measured from memory, no published source.
HOSE_M3 = 3e-6
# The smallest chambers on which a pump is screwed, by kind: from memory, no published source.
SMALLEST_CHAMBER_M3 = {"fork": 60e-6, "shock": 30e-6}
# How far a coil may stand from full extension by friction alone: common practice, no published source.
COIL_STANDS_M = 0.002


@dataclass(frozen=True)
class Evidence:
    """What a reading means: one word first, then a sentence, and where the yardstick comes from."""

    standing: Standing
    word: str
    text: str
    yardstick: str = ""


def rest_evidence(
    rest_travel_m: float,
    *,
    spring: AirSpring | GeometryGap | None,
    pressure_pa: float | None,
    write: Writer,
    ambient_pa: float = 101325.0,
    hanging: Hanging = NOTHING_HANGS,
    is_coil: bool = False,
) -> Evidence:
    """Whether a fork rests, with no more on it than what hangs, where a healthy one of its geometry does.

    A coil has no such band.

    Without geometry or pressure the yardstick is common practice, and the evidence says so. Past five millimetres
    that practice only says "look again": a large negative chamber may rest deeper and be well.
    """
    depth = write(rest_travel_m, "length")
    if is_coil:
        return Evidence("unsure", "Not judged.", f"It rests {depth} in. The bands known here are those of air springs.")
    if isinstance(spring, AirSpring) and pressure_pa is not None and pressure_pa > 0:
        try:
            band = healthy_hanging(spring, pressure_pa, hanging, ambient_pa=ambient_pa)
        except ImpossibleValue as error:
            return Evidence(
                "unsure", "Cannot be judged.", f"{depth} at this pressure does not compute: {error.reason}."
            )
        return _against_geometry(rest_travel_m, band, depth, write, hanging)
    return _against_usual_dip(rest_travel_m, depth, _why_not_geometry(spring, pressure_pa), write)


def _against_geometry(
    rest_travel_m: float, band: Band, depth: str, write: Writer, hanging: Hanging = NOTHING_HANGS
) -> Evidence:
    limits = f"{write(band.low, 'length')} to {write(band.high, 'length')}"
    yardstick = f"Healthy for this fork’s geometry at this pressure: {limits}. {hanging.words}"
    if band.contains(rest_travel_m):
        return Evidence("fits", "Within the healthy band.", f"It rests {depth} in.", yardstick)
    if rest_travel_m > band.high:
        return Evidence("off", "Too deep.", f"It rests {depth} in. Something still holds it down.", yardstick)
    text = f"It rests {depth} in, less than this fork should. Look at pressure, port and how it was measured."
    return Evidence("off", "Higher than expected.", text, yardstick)


def _against_usual_dip(rest_travel_m: float, depth: str, why: str, write: Writer) -> Evidence:
    limits = f"{write(USUAL_DIP_M.low, 'length')} to {write(USUAL_DIP_M.high, 'length')}"
    yardstick = f"A dip of {limits} is usual ({USUAL_DIP_WORDS}). {why}".strip()
    if rest_travel_m <= USUAL_DIP_M.high + 1e-9:
        return Evidence("fits", "Within what is usual.", f"It rests {depth} in.", yardstick)
    return Evidence("off", "Deeper than usual.", f"It rests {depth} in.", yardstick)


def _why_not_geometry(spring: AirSpring | GeometryGap | None, pressure_pa: float | None) -> str:
    if isinstance(spring, GeometryGap):
        if spring.reason:
            return f"This fork’s own band cannot be computed: {spring.reason}"
        return f"This fork’s own band is not known: {', '.join(spring.labels).lower()} missing from the specs."
    if spring is None:
        return "This fork’s own band is not known: its model or travel is not in the specs."
    return "" if pressure_pa else "This fork’s own band needs the pressure: enter it first."


def coil_rest_evidence(rest_travel_m: float, *, write: Writer) -> Evidence:
    """Whether a coil fork or shock stands where it should without load: fully extended, with no negative spring."""
    depth = write(rest_travel_m, "length")
    yardstick = (
        "A coil has no port and no negative chamber: without load it stands fully extended, up to "
        f"{write(COIL_STANDS_M, 'length')} of friction (common practice, no published source)."
    )
    if rest_travel_m <= COIL_STANDS_M + 1e-9:
        return Evidence("fits", "Fully extended, as a coil stands.", f"It rests {depth} in.", yardstick)
    text = f"It rests {depth} in. Something holds it down, or the coil is short of the room it is in."
    return Evidence("off", "Deeper than a coil stands.", text, yardstick)


def holding_evidence(
    before_pa: float,
    after_pa: float,
    *,
    chamber_m3: float | None,
    write: Writer,
    hose_m3: float | None = None,
    kind: str = "fork",
) -> Evidence:
    """Whether a pressure held, allowing for the air the hose takes and for what a gauge can be read to.

    Args:
        chamber_m3: the chamber that the pump is screwed to; None where nobody knows it.
        hose_m3: pump and hose of the shop; None where nobody measured them.
        kind: fork or shock, for how small the chamber may be.
    """
    hose = HOSE_M3 if hose_m3 is None else hose_m3
    slack_pa = max(GAUGE_READING_PA, GAUGE_READING_SHARE * before_pa)
    reads_to = f"A gauge reads to about ±{write(slack_pa, 'pressure')} (common practice, no published source)."
    # Of an unknown chamber: as small as there are.
    expected_pa = after_hose(before_pa, chamber_m3 or SMALLEST_CHAMBER_M3[kind], hose) if before_pa > 0 else before_pa
    takes = write(before_pa - expected_pa, "pressure")
    of_pump = (
        "" if hose_m3 is not None else f", taken for {write(hose, 'volume')}, for nobody measured this shop’s pump"
    )
    if chamber_m3 is None:
        yardstick = f"The hose alone may take up to {takes} of a small chamber{of_pump}. {reads_to}"
    else:
        yardstick = f"The hose takes about {takes}{of_pump}. {reads_to}"
    drop_pa = before_pa - after_pa
    change = f"{write(before_pa, 'pressure')} before, {write(after_pa, 'pressure')} after the wait."
    if expected_pa - after_pa > slack_pa:
        return Evidence("off", "It loses air.", f"{change} {write(drop_pa, 'pressure')} are gone.", yardstick)
    if after_pa - before_pa > slack_pa:
        text = f"{change} A pressure does not rise by itself: read both again, and mind the temperature."
        return Evidence("unsure", "It rose.", text, yardstick)
    if chamber_m3 is None and drop_pa > slack_pa:
        text = (
            f"{change} The chamber’s volume is not in the specs. Pump off and on once more without a wait: what it "
            "falls then is the hose’s, and it will have fallen no further if it is tight."
        )
        return Evidence("unsure", "It cannot be told yet.", text, yardstick)
    return Evidence("fits", "It holds.", change, yardstick)
