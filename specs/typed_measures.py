"""Measures as people type them, beyond a number and its unit: a depth that may be a share, a value beside its unit.

Pure. Counter, bench and sums read and show such measures through here; a plain magnitude is `specs.units.parse`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from specs.numbers import TWO_READINGS, NumberRefused, read_number, split_number
from specs.physics.leverage import possible_leverage
from specs.units import (
    DIMENSIONS,
    NumberUnclear,
    OtherDimension,
    UnitError,
    factors_of,
    from_si,
    number_text,
    parse,
    same_unit,
)


@dataclass(frozen=True)
class Depth:
    """How deep a unit stands as it was typed: a depth in metres, or a share of its travel."""

    depth_m: float | None = None
    share: float | None = None

    def of(self, travel_m: float) -> float:
        """The depth in metres on a unit of that travel."""
        return self.depth_m if self.depth_m is not None else (self.share or 0.0) * travel_m


def read_depth(typed: str, *, unit: str, length_unit: str) -> Depth:
    """Read "26 mm", "1 in" or "20 %".

    Args:
        typed: what was typed.
        unit: the unit beside the field, which a bare number takes: "%" or a unit of length.
        length_unit: how the shop reads lengths; it is `unit` where that is none of a share.

    Raises:
        NumberUnclear: a number that could be read in two ways.
        UnitError: neither a depth nor a share.
    """
    shares_first = unit == "%"
    units = {"fraction": "%", "length": length_unit}
    for dimension in ("fraction", "length") if shares_first else ("length", "fraction"):
        try:
            magnitude = parse(typed, dimension, units[dimension])
        except NumberUnclear:
            raise
        except OtherDimension:
            continue
        return Depth(share=magnitude) if dimension == "fraction" else Depth(depth_m=magnitude)
    example = DIMENSIONS["length"].example
    raise UnitError(f"Enter a depth or a share of the travel, for example {example} or 20 %.")


def read_leverage(typed: str) -> float:
    """Read how far a wheel goes for what its shock does: "2.5", "2.5 : 1"; or both travels, "150/60", "6 in / 60 mm".

    Raises:
        NumberUnclear: a number that could be read in two ways.
        UnitError: no ratio.
        specs.physics.errors.ImpossibleValue: one that no bicycle has; with a `likely_slip` where there is one.
    """
    parts = re.split(r"[/:]", typed)
    example = "Enter a ratio such as 2.5, or wheel travel / stroke such as 150/60."
    try:
        if len(parts) == 1:
            return possible_leverage(float(read_number(typed)))
        if len(parts) == 2:
            travel_m, stroke_m = (parse(part, "length", "mm") for part in parts)
            if stroke_m > 0:
                return possible_leverage(travel_m / stroke_m)
    except NumberRefused as refused:
        if refused.code == TWO_READINGS:
            raise NumberUnclear(str(refused)) from None
    except NumberUnclear:
        raise
    except UnitError:
        pass
    raise UnitError(example)


def beside_unit(typed: str, unit: str) -> str:
    """A value as it stands in a field that has its unit printed beside it: "30 mm" beside "mm" is "30".

    Another unit than the one beside stays, since it is what was meant: "5.4 bar" beside "psi".
    """
    number, typed_unit = split_number(typed)
    return number if number and typed_unit and same_unit(typed_unit, unit) else typed


def number_beside(magnitude_si: float, dimension: str, unit: str) -> str:
    """A magnitude in SI as it stands in a field with its unit beside it."""
    return number_text(from_si(magnitude_si, dimension, unit), unit)


def factors_beside(dimension: str, unit: str, *, whole_si: float | None = None) -> Mapping[str, float]:
    """What a number is multiplied by to be in `unit`, by the spelling of the unit typed behind it.

    `whole_si` is what a share typed in % is of, where it may be. Temperatures have none: theirs is no factor.
    """
    factors = dict(factors_of(dimension, unit))
    if whole_si is not None and dimension == "length":
        factors["%"] = from_si(whole_si, dimension, unit) / 100
    return factors
