"""The one unit registry: read what people type, convert, and format for the shop.

Inside the app every magnitude is an SI float (Pa, m, N·m, m³, kg, K, N, s, rad); this module is the
only place where other units come in or go out. Conversion factors are pint's, checked against
NIST SP 811 in tests/published.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pint

from specs.numbers import NO_NUMBER, NumberRefused, read_number, split_number

_registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
_registry.define("click = [clicks]")


# “12 st 4”, “12 stone 4 lb”: in stones and what is left in pounds.
_STONES_AND_POUNDS = re.compile(
    r"(?P<stones>[\d.,]+)\s*(?:st|stones?)\.?\s*(?P<pounds>[\d.,]+)\s*(?:lbs?|pounds?)?\.?", re.IGNORECASE
)


class UnitError(ValueError):
    """What was typed is no value of the wanted dimension; the message says why in plain words."""


class UnknownUnit(UnitError):
    """A unit was typed that is not known here."""


class OtherDimension(UnitError):
    """A known unit was typed, of another dimension than the wanted one."""


class NumberUnclear(UnitError):
    """The number could be read in two ways; the message names both."""


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its SI unit, the units a shop may show it in, and how to write each."""

    key: str
    label: str
    si_unit: str
    shown_units: tuple[str, ...]
    example: str


DIMENSIONS: Mapping[str, Dimension] = {
    d.key: d
    for d in (
        Dimension("pressure", "pressure", "pascal", ("psi", "bar", "kPa"), "82 psi"),
        Dimension("length", "length", "meter", ("mm", "in"), "4.5 mm"),
        Dimension("torque", "torque", "newton * meter", ("N·m", "in·lbf", "ft·lbf"), "7.5 N·m"),
        Dimension("volume", "volume", "meter ** 3", ("ml", "cm³", "fl oz"), "15 ml"),
        Dimension("force", "force", "newton", ("N", "lbf", "kgf"), "730 N"),
        Dimension("mass", "mass", "kilogram", ("kg", "lb"), "82 kg"),
        Dimension("temperature", "temperature", "kelvin", ("°C", "°F"), "20 °C"),
        Dimension("time", "time", "second", ("h", "months", "min"), "43 h"),
        Dimension("angle", "angle", "radian", ("°",), "65°"),
        Dimension("clicks", "clicks", "click", ("clicks",), "7 clicks"),
        Dimension("count", "number", "dimensionless", ("",), "2"),
        Dimension("fraction", "share", "dimensionless", ("%",), "20 %"),
    )
}

# How each shown unit is spelled for pint.
_PINT_NAMES: Mapping[str, str] = {
    "psi": "psi",
    "bar": "bar",
    "kPa": "kilopascal",
    "mm": "millimeter",
    "in": "inch",
    "N·m": "newton * meter",
    "in·lbf": "force_pound * inch",
    "ft·lbf": "force_pound * foot",
    "ml": "milliliter",
    "cm³": "centimeter ** 3",
    "fl oz": "fluid_ounce",
    "N": "newton",
    "lbf": "force_pound",
    "kgf": "kilogram_force",
    "kg": "kilogram",
    "lb": "pound",
    "°C": "degree_Celsius",
    "°F": "degree_Fahrenheit",
    "h": "hour",
    "months": "month",
    "min": "minute",
    "°": "degree",
    "clicks": "click",
    "": "dimensionless",
    "%": "percent",
}

# What people type, in lower case and without blanks, and the pint unit meant.
_SPELLINGS: Mapping[str, str] = {
    "nm": "newton * meter",
    "n·m": "newton * meter",
    "n*m": "newton * meter",
    "n.m": "newton * meter",
    "newtonmetre": "newton * meter",
    "newtonmetres": "newton * meter",
    "inlb": "force_pound * inch",
    "inlbs": "force_pound * inch",
    "in-lb": "force_pound * inch",
    "in-lbs": "force_pound * inch",
    "in·lb": "force_pound * inch",
    "in·lbf": "force_pound * inch",
    "inlbf": "force_pound * inch",
    "lbf·in": "force_pound * inch",
    "lbfin": "force_pound * inch",
    "lb-in": "force_pound * inch",
    "ftlb": "force_pound * foot",
    "ftlbs": "force_pound * foot",
    "ft-lb": "force_pound * foot",
    "ft-lbs": "force_pound * foot",
    "ft·lbf": "force_pound * foot",
    "ftlbf": "force_pound * foot",
    "lbf·ft": "force_pound * foot",
    "lb-ft": "force_pound * foot",
    "kgfcm": "kilogram_force * centimeter",
    "kgf·cm": "kilogram_force * centimeter",
    "kgf-cm": "kilogram_force * centimeter",
    "kgcm": "kilogram_force * centimeter",
    "psi": "psi",
    "psig": "psi",
    "bar": "bar",
    "barg": "bar",
    "mbar": "millibar",
    "kpa": "kilopascal",
    "mpa": "megapascal",
    "pa": "pascal",
    "kgf/cm2": "kilogram_force / centimeter ** 2",
    "kgf/cm²": "kilogram_force / centimeter ** 2",
    "atm": "atmosphere",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    '"': "inch",
    "ml": "milliliter",
    "cc": "centimeter ** 3",
    "cm3": "centimeter ** 3",
    "cm³": "centimeter ** 3",
    "mm3": "millimeter ** 3",
    "mm³": "millimeter ** 3",
    "l": "liter",
    "cl": "centiliter",
    "floz": "fluid_ounce",
    "usfloz": "fluid_ounce",
    "impfloz": "imperial_fluid_ounce",
    "imperialfloz": "imperial_fluid_ounce",
    "n": "newton",
    "kn": "kilonewton",
    "lbf": "force_pound",
    "kgf": "kilogram_force",
    "kg": "kilogram",
    "g": "gram",
    "lb": "pound",
    "lbs": "pound",
    "pound": "pound",
    "pounds": "pound",
    "kgs": "kilogram",
    "st": "stone",
    "stone": "stone",
    "stones": "stone",
    "°c": "degree_Celsius",
    "c": "degree_Celsius",
    "°f": "degree_Fahrenheit",
    "f": "degree_Fahrenheit",
    "k": "kelvin",
    "s": "second",
    "sec": "second",
    "min": "minute",
    "mins": "minute",
    "minutes": "minute",
    "h": "hour",
    "hr": "hour",
    "hrs": "hour",
    "hour": "hour",
    "hours": "hour",
    "days": "day",
    "day": "day",
    "weeks": "week",
    "month": "month",
    "months": "month",
    "year": "year",
    "years": "year",
    "°": "degree",
    "deg": "degree",
    "degrees": "degree",
    "rad": "radian",
    "click": "click",
    "clicks": "click",
    "%": "percent",
    "percent": "percent",
    "pc": "dimensionless",
    "pcs": "dimensionless",
}


def parse(typed: str, dimension: str, default_unit: str, *, as_written: bool = False) -> float:
    """Read a typed value as SI.

    Args:
        typed: what was typed, e.g. "82 psi", "5,6 bar", "560kPa" or "82" (which takes the default unit); how its
            number is read is in specs.numbers.
        dimension: a key of DIMENSIONS.
        default_unit: the unit printed beside the field, one of the dimension's shown units.
        as_written: see specs.numbers.read_number.

    Returns:
        The magnitude in the dimension's SI unit.

    Raises:
        NumberUnclear: a number that could be read in two ways.
        UnitError: empty, no number, an unknown unit or another dimension.
    """
    kind = DIMENSIONS[dimension]
    if dimension == "mass" and (parts := _STONES_AND_POUNDS.fullmatch(typed.strip())):
        return _stones_and_pounds(parts["stones"], parts["pounds"], kind)
    number_text, unit_text = split_number(typed)
    if not number_text:
        raise UnitError(f"Enter a number, for example {kind.example}.")
    pint_unit = _PINT_NAMES[default_unit] if not unit_text else _meant_unit(unit_text, kind)
    try:
        number = float(read_number(number_text, decimals=_decimals_in(pint_unit), as_written=as_written))
    except NumberRefused as refused:
        if refused.code == NO_NUMBER:
            raise UnitError(f"Enter a number, for example {kind.example}.") from None
        raise NumberUnclear(str(refused)) from None
    try:
        magnitude = float(_registry.Quantity(number, pint_unit).to(kind.si_unit).magnitude)
    except pint.DimensionalityError:
        raise OtherDimension(
            f"“{unit_text}” is not a unit of {kind.label}. Enter for example {kind.example}."
        ) from None
    if not math.isfinite(magnitude):
        raise UnitError(f"That number is too large. Enter for example {kind.example}.")
    return magnitude


def _meant_unit(unit_text: str, kind: Dimension) -> str:
    meant = _spelled(unit_text)
    if meant is None:
        raise UnknownUnit(f"The unit “{unit_text}” is not known here. Enter for example {kind.example}.")
    return meant


def _spelled(unit_text: str) -> str | None:
    folded = re.sub(r"\s+", "", unit_text).lower()
    return _SPELLINGS.get(folded) or _SPELLINGS.get(folded.rstrip("."))


def _stones_and_pounds(stones: str, pounds: str, kind: Dimension) -> float:
    """“12 st 4” in kilograms: whole stones, and pounds below the fourteen that make one."""
    try:
        whole, rest = float(read_number(stones)), float(read_number(pounds))
    except NumberRefused:
        raise UnitError(f"Enter stones and pounds as 12 st 4, or for example {kind.example}.") from None
    if whole != int(whole) or not 0 <= rest < 14 or whole < 0:
        raise UnitError("A stone has 14 lb: enter whole stones and less than 14 lb, for example 12 st 4.")
    return float((_registry.Quantity(whole, "stone") + _registry.Quantity(rest, "pound")).to(kind.si_unit).magnitude)


def same_unit(spelled: str, unit: str) -> bool:
    """Whether what was typed behind a number is the unit that is printed beside the field."""
    return spelled == unit or _spelled(spelled) == _PINT_NAMES[unit]


@lru_cache(maxsize=128)
def factors_of(dimension: str, unit: str) -> Mapping[str, float]:
    """Spellings of the dimension's units, and how many of `unit` one of each is; none where the scale has an offset."""
    kind, factors = DIMENSIONS[dimension], {}
    if dimension in ("temperature", "count"):
        return {}
    for spelled, name in _SPELLINGS.items():
        one = _registry.Quantity(1.0, name)
        if one.is_compatible_with(kind.si_unit):
            factors[spelled] = float(one.to(_PINT_NAMES[unit]).magnitude)
    return factors


@lru_cache(maxsize=512)
def _linear(unit: str, dimension: str) -> tuple[float, float]:
    """Slope and offset from SI to a shown unit; every shown unit is linear in SI."""
    si_unit = DIMENSIONS[dimension].si_unit
    name = _PINT_NAMES[unit]
    at_zero = float(_registry.Quantity(0.0, si_unit).to(name).magnitude)
    at_one = float(_registry.Quantity(1.0, si_unit).to(name).magnitude)
    return at_one - at_zero, at_zero


def from_si(magnitude_si: float, dimension: str, unit: str) -> float:
    """Convert an SI magnitude to one of the dimension's shown units."""
    slope, offset = _linear(unit, dimension)
    return magnitude_si * slope + offset


def to_si(magnitude: float, dimension: str, unit: str) -> float:
    """Convert a magnitude in a shown unit to SI."""
    slope, offset = _linear(unit, dimension)
    return (magnitude - offset) / slope


# Decimals that a pump, a ruler or a wrench can be read to.
_DECIMALS: Mapping[str, int] = {
    "psi": 1, "bar": 2, "kPa": 0, "mm": 2, "in": 3, "N·m": 1, "in·lbf": 0, "ft·lbf": 1, "ml": 1, "cm³": 1,
    "fl oz": 2, "N": 0, "lbf": 0, "kgf": 1, "kg": 1, "lb": 0, "°C": 1, "°F": 0, "h": 1, "months": 1, "min": 1,
    "°": 1, "clicks": 0, "": 2, "%": 1,
}  # fmt: skip


def _decimals_in(pint_unit: str) -> int:
    """With how many decimals values of a unit are written; two where the app writes none in it."""
    return next((_DECIMALS[shown] for shown, name in _PINT_NAMES.items() if name == pint_unit), 2)


def number_text(value: float, unit: str) -> str:
    """A number with the decimals its unit can be read to, without trailing noughts."""
    text = f"{value:.{_DECIMALS[unit]}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def show(magnitude_si: float, dimension: str, unit: str) -> str:
    """An SI magnitude as text in a shown unit, e.g. "82 psi", "8 N·m", "20 %"."""
    text = number_text(from_si(magnitude_si, dimension, unit), unit)
    if not unit:
        return text
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}"
