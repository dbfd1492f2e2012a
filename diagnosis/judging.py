"""Whether a reading is what this unit is meant to have, and which slip it looks like where it is not. Pure, SI floats.

A yardstick is made of one unit's own values (diagnosis.wanted). Where it has none, nothing is judged, and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from specs.units import DIMENSIONS, from_si, show, to_si

Writer = Callable[[float, str], str]
"""Writes an SI magnitude of a dimension in the shop's unit, such as (0.004, "length") -> "4 mm"."""

Standing = Literal["within", "outside", "never", "unjudged"]

# Rounding of what is typed and shown; far below anything a gauge or a syringe can be read to.
_SAME = 1e-6


@dataclass(frozen=True)
class WantedSpan:
    """What a reading is to be on this unit. `value` is the one to work to; None where any of the span will do."""

    label: str
    low: float
    high: float
    value: float | None = None

    def holds(self, magnitude_si: float) -> bool:
        slack = _SAME * max(abs(self.low), abs(self.high))
        return self.low - slack <= magnitude_si <= self.high + slack


@dataclass(frozen=True)
class Yardstick:
    """What a reading is held against on one unit.

    `other` is what the unit's other leg is to have. `most` is never passed, and `most_says` names it, such as “the
    maximum of this unit”. `whole` is what a length is a share of. `missing` names what is declared and not on record.
    `as_shown`: the value may be entered as it is shown, because it is set and not measured.
    """

    wanted: WantedSpan | None = None
    other: WantedSpan | None = None
    most: float | None = None
    most_says: str = ""
    whole: float | None = None
    missing: tuple[str, ...] = ()
    as_shown: bool = False
    as_found: bool = False


NOTHING = Yardstick()


@dataclass(frozen=True)
class Judgement:
    """How a reading stands, in a sentence; `slip` names the likely one in a question, or is empty."""

    standing: Standing
    text: str = ""
    slip: str = ""

    @property
    def sentence(self) -> str:
        return " ".join(filter(None, (self.text, self.slip)))


def judge(magnitude_si: float, yardstick: Yardstick, *, dimension: str, unit: str, write: Writer) -> Judgement:
    """Hold a reading against a unit's values.

    Args:
        magnitude_si: what was read.
        yardstick: what it is held against.
        dimension, unit: a key of specs.units.DIMENSIONS, and the unit printed beside the field.
        write: writes a magnitude in the shop's units.

    Returns:
        “never” above the maximum, also of what was found so: whether that is taken is its caller's. “outside” with the
        likely slip; “within”; “unjudged” with what is missing, or without a word where nothing is declared.
    """
    read = write(magnitude_si, dimension)
    most, wanted = yardstick.most, yardstick.wanted
    if most is not None and magnitude_si > most * (1 + _SAME):
        text = f"{read} is above {yardstick.most_says or 'the most'}, {write(most, dimension)}."
        return Judgement("never", text, slip_of(magnitude_si, yardstick, dimension=dimension, unit=unit, write=write))
    if wanted is None:
        missing = " and ".join(f"“{label}”" for label in yardstick.missing)
        return Judgement("unjudged", f"{missing} is not on record: nothing is judged." if missing else "")
    said = f"{read}{_share(magnitude_si, yardstick, write)}"
    limits = span_in_words(wanted, yardstick, dimension, write)
    if wanted.holds(magnitude_si):
        return Judgement("within", f"{said}: within {limits}.")
    slip = slip_of(magnitude_si, yardstick, dimension=dimension, unit=unit, write=write)
    return Judgement("outside", f"{said}: outside {limits}.", slip)


def span_in_words(wanted: WantedSpan, yardstick: Yardstick, dimension: str, write: Writer) -> str:
    """The span as it is read: “9.5 ml to 10.5 ml”, or as shares, “15 to 20 %”, of what is a share of a whole."""
    if yardstick.whole and wanted.value is None:
        low, high = (write(end / yardstick.whole, "fraction") for end in (wanted.low, wanted.high))
        return f"{low.removesuffix(' %')} to {high}"
    return f"{write(wanted.low, dimension)} to {write(wanted.high, dimension)}"


def kept_in_words(
    magnitude_si: float, held_against: Mapping[str, Any], *, outside: bool, dimension: str, write: Writer
) -> tuple[str, str]:
    """A reading that was kept, and how it stood when it was read, such as (“28 mm, 17.5 %”, “within 15 to 20 %”).

    `held_against` is as diagnosis.runs_readings.against keeps it; without one nothing was judged, and nothing is said.
    What is outside without one was above a maximum when it came in.
    """
    if not held_against:
        return write(magnitude_si, dimension), "above the maximum" if outside else ""
    low, high, value = held_against["low"], held_against["high"], held_against.get("value")
    span = WantedSpan(held_against["label"], low, high, value)
    yardstick = Yardstick(wanted=span, whole=held_against.get("whole"))
    read = f"{write(magnitude_si, dimension)}{_share(magnitude_si, yardstick, write)}"
    return read, f"{'outside' if outside else 'within'} {span_in_words(span, yardstick, dimension, write)}"


def _share(magnitude_si: float, yardstick: Yardstick, write: Writer) -> str:
    if not yardstick.whole:
        return ""
    return f", {write(magnitude_si / yardstick.whole, 'fraction')}"


def slip_of(magnitude_si: float, yardstick: Yardstick, *, dimension: str, unit: str, write: Writer) -> str:
    """The slip that would explain a reading outside its span, as a question; empty where none of these would."""
    wanted, other = yardstick.wanted, yardstick.other
    if wanted is None:
        if yardstick.most is None:
            return ""
        wanted = WantedSpan("", 0.25 * yardstick.most, yardstick.most)  # of a maximum alone only a unit can be told
        return next(_other_unit(magnitude_si, wanted, dimension, unit), "")
    if other is not None and other.holds(magnitude_si):
        return f"That is what the other leg gets (“{other.label}”). Are the legs mixed up?"
    if other is not None and _both(wanted, other).holds(magnitude_si):
        return f"That is both legs together. Was {write(_middle(wanted), dimension)} meant for this one?"
    for unit_words in _other_unit(magnitude_si, wanted, dimension, unit):
        return unit_words
    for factor, word in ((10.0, "Ten times too much"), (0.1, "A tenth of it")):
        if wanted.holds(magnitude_si / factor):
            return f"{word}? Was {write(magnitude_si / factor, dimension)} meant?"
    return ""


def slip_out_of_range(magnitude: float, low: float | None, high: float | None, dimension: str, unit: str) -> str:
    """The slip that would explain a value none can have, as a question; empty where none of these would.

    A mass is weighed in grams, too, and an angle is measured from the upright.
    """
    if low is None or high is None:
        return ""

    if dimension == "mass" and low <= magnitude / 1000 <= high:
        return f"A thousand times too much? Was {from_si(magnitude / 1000, dimension, unit):.3g} {unit} meant?"
    if dimension == "angle" and low <= math.pi / 2 - magnitude <= high:
        return f"Was it measured from the upright? Then it is {show(math.pi / 2 - magnitude, dimension, unit)}."

    def write(magnitude_si: float, of_dimension: str) -> str:
        return show(magnitude_si, of_dimension, unit)

    return slip_of(magnitude, Yardstick(wanted=WantedSpan("", low, high)), dimension=dimension, unit=unit, write=write)


_SPOKEN = {"in": "inches"}  # “in in” is no English


def _other_unit(magnitude_si: float, wanted: WantedSpan, dimension: str, unit: str) -> Iterator[str]:
    """The number as it would be in another unit of its dimension, where that fits, the nearest to the middle first."""
    number = from_si(magnitude_si, dimension, unit)
    meant = {
        other: to_si(number, dimension, other)
        for other in DIMENSIONS[dimension].shown_units
        if other != unit and abs(to_si(number, dimension, other) - magnitude_si) > _SAME * abs(magnitude_si)
    }
    for other in sorted(meant, key=lambda key: abs(meant[key] - _middle(wanted))):
        if wanted.holds(meant[other]):
            yield f"Was it read in {_SPOKEN.get(other, other)}? Then write {number:.6g} {other}."


def _both(wanted: WantedSpan, other: WantedSpan) -> WantedSpan:
    return WantedSpan("", wanted.low + other.low, wanted.high + other.high)


def _middle(span: WantedSpan) -> float:
    return span.value if span.value is not None else (span.low + span.high) / 2
