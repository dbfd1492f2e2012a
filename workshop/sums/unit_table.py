"""One value in every unit of its dimension."""

from __future__ import annotations

import re
from collections.abc import Callable

from specs.units import DIMENSIONS, OtherDimension, UnitError, UnknownUnit, from_si, parse
from workshop.sums.answer import Answer, AnswerRow, significant

# Clicks, counts and shares have one unit each: nothing to convert.
CONVERTIBLE = ("pressure", "torque", "length", "volume", "force", "mass", "temperature", "time", "angle")

# Beside the units a shop may read, those that manuals and bottles print; the label, and how it is typed.
_FURTHER_UNITS: dict[str, tuple[tuple[str, str], ...]] = {
    "pressure": (("MPa", "MPa"), ("kgf/cm²", "kgf/cm²"), ("atm", "atm")),
    "torque": (("kgf·cm", "kgf·cm"),),
    "length": (("cm", "cm"), ("m", "m")),
    "volume": (("l", "l"), ("imperial fl oz", "imperial fl oz")),
    "force": (("kN", "kN"),),
    "mass": (("g", "g"), ("st", "st")),
    "temperature": (("K", "K"),),
    "time": (("s", "s"), ("days", "days"), ("weeks", "weeks"), ("years", "years")),
    "angle": (("rad", "rad"),),
}
_LABELS = {"fl oz": "US fl oz"}
_NO_UNIT = re.compile(r"[\s\d.,'’+\-−]*")


def has_unit(typed: str) -> bool:
    """Whether anything but a number was typed."""
    return _NO_UNIT.fullmatch(typed) is None


def dimension_of(typed: str) -> str:
    """The dimension of the unit that was typed. Raises UnitError for one that is not known here."""
    reason = UnitError("Enter a number with its unit, for example 82 psi.")
    for key in CONVERTIBLE:
        try:
            parse(typed, key, DIMENSIONS[key].shown_units[0], as_written=True)
        except UnitError as error:
            reason = error
        else:
            return key
    if isinstance(reason, OtherDimension):
        raise UnitError("There is nothing to convert that into.")
    if isinstance(reason, UnknownUnit):
        examples = ", ".join(DIMENSIONS[key].example for key in CONVERTIBLE[:4])
        raise UnitError(f"That unit is not known here. Enter for example {examples}.")
    raise reason


def convert(typed: str, dimension: str, unit_for: Callable[[str], str]) -> Answer:
    """A typed value in every unit of its dimension, the shop's first.

    Raises UnitError for what is no value of the dimension, or a temperature below absolute zero.
    """
    kind = DIMENSIONS[dimension]
    magnitude_si = parse(typed, dimension, unit_for(dimension), as_written=True)
    if dimension == "temperature" and magnitude_si < 0:
        raise UnitError("Nothing is colder than absolute zero, −273.15 °C.")
    shown = [(_LABELS.get(unit, unit), from_si(magnitude_si, dimension, unit)) for unit in kind.shown_units]
    further = [
        (label, magnitude_si / parse(f"1 {spelling}", dimension, kind.shown_units[0]))
        for label, spelling in _FURTHER_UNITS[dimension]
    ]
    own = _LABELS.get(unit_for(dimension), unit_for(dimension))
    values = sorted([*shown, *further], key=lambda value: value[0] != own)
    written = [AnswerRow(unit, _with_unit(number, unit)) for unit, number in values]
    as_typed = typed.strip() if has_unit(typed) else f"{typed.strip()} {unit_for(dimension)}"
    others = [row.value for row in written if row.value.replace(" ", "") != as_typed.replace(" ", "")]
    return Answer(
        words=(f"{as_typed} is {' or '.join(others[:2])}.",),
        rows=tuple(written),
        assumed=_ASSUMED.get(dimension, ()),
        sources=("Conversion factors of NIST SP 811.",),
    )


_ASSUMED: dict[str, tuple[str, ...]] = {
    "pressure": ("A gauge pressure stays a gauge pressure: only its unit changes.",),
    "time": ("A month is a twelfth of 365.25 days.",),
    "mass": ("A weight read off scales is a mass here.",),
}


def _with_unit(number: float, unit: str) -> str:
    text = significant(number).replace("-", "−")
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}"
