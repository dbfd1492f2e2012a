"""What a person or a file says a value is, read as SI and refused with the reason where it cannot be right.

Pure: knows the quantities and the units, no records. Forms, the import and the demo data all read through here.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from specs.numbers import split_number
from specs.quantities import QUANTITIES, ImplausibleValue, Quantity, check_plausible
from specs.typed_measures import read_depth
from specs.units import DIMENSIONS, UnitError, parse

LONGEST_TEXT = 120
SHARES_OF_TRAVEL = frozenset({"sag_low", "sag_high"})
# Two ways of writing the same magnitude differ in the last bits of the conversion, never by more.
SAME_MAGNITUDE = 1e-9

_SIGN_OF_TOLERANCE = re.compile(r"^(±|\+\s*/\s*[-−]|\+-)\s*")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


class ValueRefused(ValueError):
    """A value that cannot be taken. `field` is "quantity", "typed" or "tolerance"."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(reason)
        self.field = field
        self.reason = reason


@dataclass(frozen=True)
class TypedValue:
    """A value as typed (with its unit) and in SI; a text quantity has `text` and no magnitude."""

    typed: str
    magnitude_si: float | None = None
    text: str = ""
    tolerance_si: float | None = None


def read_typed(*, quantity: str, typed: str, unit: str, tolerance: str = "", travel_mm: int = 0) -> TypedValue:
    """Read a value of a quantity.

    Args:
        quantity: a key of QUANTITIES.
        typed: what was typed, with or without a unit.
        unit: the unit meant where none was typed; empty where there is none beside the field, as in a file.
        tolerance: empty, or plus-or-minus in the same unit or in percent, e.g. "0.5", "±0,5 N·m", "5 %".
        travel_mm: the travel that the value is of, 0 for every travel; a sag may be typed as a depth of that travel.

    Raises:
        ValueRefused: unknown quantity, no number, wrong dimension, no unit, or a size that no fork has.
    """
    if quantity not in QUANTITIES:
        raise ValueRefused("quantity", f"“{quantity}” is no quantity that is kept here.")
    meant = QUANTITIES[quantity]
    typed = typed.strip()
    if not typed:
        raise ValueRefused("typed", "Enter the value.")
    if meant.dimension is None:
        return _read_text(meant, typed, tolerance)
    typed = _with_unit(meant, typed, unit)
    try:
        magnitude_si = _magnitude(meant, typed, travel_mm)
        check_plausible(quantity, magnitude_si)
    except (UnitError, ImplausibleValue) as error:
        raise ValueRefused("typed", str(error)) from error
    if meant.dimension == "clicks" and magnitude_si != round(magnitude_si):
        raise ValueRefused("typed", "Clicks are whole numbers.")
    return TypedValue(
        typed=typed, magnitude_si=magnitude_si, tolerance_si=_read_tolerance(meant, tolerance, magnitude_si, typed)
    )


def same_value(value: TypedValue, *, magnitude_si: float | None, text: str, tolerance_si: float | None) -> bool:
    """Whether a typed value says the same as a stored one, however it was written."""
    return (
        value.text == text
        and _same_number(value.magnitude_si, magnitude_si)
        and _same_number(value.tolerance_si, tolerance_si)
    )


def split_typed(typed: str) -> tuple[str, str]:
    """A typed value as number and unit: "8.0 N·m" gives ("8.0", "N·m")."""
    number, unit = split_number(typed)
    return (number, unit) if number else (typed, "")


def _read_text(quantity: Quantity, typed: str, tolerance: str) -> TypedValue:
    text = re.sub(r" +", " ", typed)
    if _CONTROL.search(text):
        raise ValueRefused("typed", f"“{quantity.label}” is one line of text.")
    if len(text) > LONGEST_TEXT:
        raise ValueRefused("typed", f"At most {LONGEST_TEXT} characters; this has {len(text)}.")
    if tolerance.strip():
        raise ValueRefused("tolerance", f"“{quantity.label}” is text and has no tolerance.")
    return TypedValue(typed=text, text=text)


def _magnitude(quantity: Quantity, typed: str, travel_mm: int) -> float:
    """In SI; the share of a sag may be typed as a depth, where it is of one travel."""
    assert quantity.dimension is not None  # noqa: S101 (text quantities were read elsewhere)
    if quantity.key not in SHARES_OF_TRAVEL:
        return parse(typed, quantity.dimension, quantity.unit)
    depth = read_depth(typed, unit=quantity.unit, length_unit="mm")
    if depth.share is None and not travel_mm:
        raise UnitError("A depth is a share of one travel only. Enter it in %, or for one travel.")
    return depth.share if depth.share is not None else depth.of(1.0) / (travel_mm / 1000)


def _with_unit(quantity: Quantity, typed: str, unit: str) -> str:
    if len(typed) > LONGEST_TEXT:
        raise ValueRefused("typed", f"Enter a number and its unit, for example {_example(quantity)}.")
    if not _is_only_a_number(typed):
        return typed
    if unit:
        return f"{typed} {unit}"
    if quantity.dimension == "clicks":
        return f"{typed} clicks"
    raise ValueRefused("typed", f"The unit is missing. Enter for example {_example(quantity)}.")


def _read_tolerance(quantity: Quantity, tolerance: str, magnitude_si: float, typed: str) -> float | None:
    tolerance = _SIGN_OF_TOLERANCE.sub("", tolerance.strip())
    if not tolerance:
        return None
    assert quantity.dimension is not None  # noqa: S101 (text quantities were read elsewhere)
    try:
        if tolerance.endswith("%") and quantity.dimension != "fraction":
            tolerance_si = parse(tolerance, "fraction", "%") * abs(magnitude_si)
        else:
            if _is_only_a_number(tolerance):
                tolerance = f"{tolerance} {split_typed(typed)[1]}"
            tolerance_si = parse(tolerance, quantity.dimension, quantity.unit)
    except UnitError as error:
        raise ValueRefused("tolerance", str(error)) from error
    if tolerance_si < 0:
        raise ValueRefused("tolerance", "A tolerance is plus or minus; leave the minus sign out.")
    if tolerance_si >= abs(magnitude_si) > 0:
        raise ValueRefused("tolerance", "The tolerance is as large as the value itself.")
    return tolerance_si or None


def _same_number(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=SAME_MAGNITUDE, abs_tol=0.0)


def _is_only_a_number(typed: str) -> bool:
    number, unit = split_number(typed)
    return bool(number) and not unit


def _example(quantity: Quantity) -> str:
    return DIMENSIONS[quantity.dimension].example if quantity.dimension else quantity.label
