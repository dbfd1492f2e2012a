"""Readings of a measured fork as they are typed or stand in a file: one line a reading, judged line by line.

The layout, ours and plain: UTF-8 text, a header line with these columns in any order, then one reading a line, parted
by comma, semicolon or tab. A number may bring its unit; without one it is in the unit in brackets.

    pressure      the pump's reading with both chambers level at the port (psi)
    temperature   of the fork at this reading (°C); may be left out, then 20 °C. The first line of a pressure counts
                  as the temperature it was filled at
    travel        how deep the fork stands, from full extension (mm)
    force         what it is pressed with along its axis: N, or kg as scales show it (N); pulled out is below zero
    direction     in or out: which way it was moving when it came to a stand

What one line says wrong is told with that line's number, all of it at once. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from specs.physics.measured_fork import STANDARD_GRAVITY, Direction, ForceReading
from specs.units import OtherDimension, UnitError, parse
from specs.value_files import FileRow, UnreadableFile, read_csv

COLUMNS = ("pressure", "temperature", "travel", "force", "direction")
REQUIRED = ("pressure", "travel", "force", "direction")
ROOM_K = 293.15
MOST_READINGS = 500
_WORDS: Mapping[str, Direction] = {"in": "in", "i": "in", "out": "out", "o": "out"}
_HIGHEST_PA = 2.8e6
_HOTTEST_K, _COLDEST_K = 333.15, 243.15
_MOST_FORCE_N, _MOST_PULL_N = 20_000.0, 2_000.0


class LinesRefused(ValueError):
    """What is wrong, by line as an editor counts; 0 is the whole. `errors` keeps the order of the lines."""

    def __init__(self, errors: Mapping[int, str]) -> None:
        super().__init__(" ".join(errors.values()))
        self.errors = dict(errors)

    @property
    def sentences(self) -> list[str]:
        """One sentence for each, its line named first."""
        return [f"Line {line}: {said}" if line else said for line, said in self.errors.items()]


@dataclass(frozen=True)
class LineRead:
    """A reading and the line it stands on."""

    line: int
    reading: ForceReading


def read_lines(text: str, *, travel_m: float) -> list[LineRead]:
    """The readings of a text in our layout, in its order. Raises LinesRefused with every line that cannot be taken."""
    try:
        rows = read_csv(text.encode("utf-8"), COLUMNS, REQUIRED)
    except UnreadableFile as unreadable:
        raise LinesRefused({0: str(unreadable)}) from unreadable
    if len(rows) > MOST_READINGS:
        raise LinesRefused({0: f"{len(rows)} readings are more than can be fitted here: {MOST_READINGS} at most."})
    read: list[LineRead] = []
    errors: dict[int, str] = {}
    filled_k: dict[float, float] = {}
    seen: dict[ForceReading, int] = {}
    for row in rows:
        try:
            reading = _reading(row, travel_m, filled_k)
        except UnitError as error:
            errors[row.place] = str(error)
            continue
        if reading in seen:
            errors[row.place] = f"The same as line {seen[reading]}, to the last figure: was it typed twice?"
            continue
        seen[reading] = row.place
        read.append(LineRead(row.place, reading))
    if errors:
        raise LinesRefused(errors)
    return read


def _reading(row: FileRow, travel_m: float, filled_k: dict[float, float]) -> ForceReading:
    if row.fault:
        raise UnitError(row.fault)
    cells = {name: row.cells.get(name, "").strip() for name in COLUMNS}
    pressure_pa = _within("Pressure", cells["pressure"], "pressure", "psi", 0.0, _HIGHEST_PA, "400 psi is the most.")
    reading_k = ROOM_K
    if cells["temperature"]:
        reading_k = _within(
            "Temperature", cells["temperature"], "temperature", "°C", _COLDEST_K, _HOTTEST_K, "−30 to 60 °C is likely."
        )
    depth_m = _within("Travel", cells["travel"], "length", "mm", 0.0, 1.0, "It counts from full extension.")
    if depth_m > travel_m + 1e-9:
        raise UnitError(
            f"{depth_m * 1000:.4g} mm is deeper than this fork goes, {travel_m * 1000:.4g} mm. "
            "Is it a depth from full extension, in millimetres?"
        )
    force_n = read_force(cells["force"])
    if not -_MOST_PULL_N <= force_n <= _MOST_FORCE_N:
        raise UnitError(f"Force: {force_n:.4g} N is more than anybody puts on a fork. Is the unit right?")
    way = _WORDS.get(cells["direction"].casefold())
    if way is None:
        raise UnitError(f"Direction: “{cells['direction'][:20]}” is neither in nor out.")
    return ForceReading(pressure_pa, depth_m, force_n, way, filled_k.setdefault(pressure_pa, reading_k), reading_k)


def read_force(typed: str) -> float:
    """A force in newtons: "120 N", "12.2 kg" as scales show it, "27 lbf"; a bare number is newtons."""
    try:
        return parse(typed, "force", "N")
    except OtherDimension as other:
        try:
            return parse(typed, "mass", "kg") * STANDARD_GRAVITY
        except UnitError:
            raise UnitError(f"Force: {other}") from None
    except UnitError as error:
        raise UnitError(f"Force: {error}") from None


def _within(name: str, typed: str, dimension: str, unit: str, low: float, high: float, why: str) -> float:
    try:
        magnitude = parse(typed, dimension, unit)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None
    if not low <= magnitude <= high:
        raise UnitError(f"{name}: “{typed[:20]}” cannot be. {why}")
    return magnitude
