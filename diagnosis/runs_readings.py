"""Readings as they are typed at a step, put into SI and held against what can be meant."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnosis.declared import ARRIVAL_PRESSURE
from specs.units import UnitError, parse, show

# What a pump showed before anybody touched the fork is a fact, even above the maximum; the others are settings.
AS_FOUND = frozenset({ARRIVAL_PRESSURE})


class ReadingsRefused(ValueError):
    """One or more readings cannot be taken; `errors` has a sentence for each reading's key.

    `may_be_as_found` says that a pressure is above the maximum and is taken once somebody says it was found so.
    """

    def __init__(self, errors: Mapping[str, str], *, may_be_as_found: bool = False) -> None:
        super().__init__(" ".join(errors.values()))
        self.errors, self.may_be_as_found = dict(errors), may_be_as_found


class AboveMaximum(UnitError):
    """A pressure above the maximum, taken only once somebody says that it was found so."""


@dataclass(frozen=True)
class TypedReading:
    """A reading in SI and as it was typed, the unit written out."""

    key: str
    magnitude_si: float
    typed: str


def read_all(
    plans: list[dict[str, Any]],
    typed: Mapping[str, str],
    units: Mapping[str, str],
    *,
    max_pressure_pa: float | None = None,
    above_maximum_is_meant: bool = False,
) -> list[TypedReading]:
    """Read what was typed for the readings of a step; empty ones are left out.

    Args:
        plans: the step's readings, as diagnosis.layout writes them.
        typed: what was typed, by reading key.
        units: the unit printed beside the fields, by dimension; the plan's own unit where there is none.
        max_pressure_pa: the unit's maximum, above which no pressure is taken; None if it is not known.
        above_maximum_is_meant: a pressure found on arrival is taken although it is above the maximum.

    Raises:
        ReadingsRefused: with a sentence for every reading that cannot be taken.
    """
    taken: list[TypedReading] = []
    errors: dict[str, str] = {}
    may_be_as_found = False
    for plan in plans:
        text = " ".join(str(typed.get(plan["key"], "")).split())
        if not text:
            continue
        try:
            taken.append(_read(plan, text, unit_of(plan, units), max_pressure_pa, above_maximum_is_meant))
        except UnitError as error:
            errors[plan["key"]] = str(error)
            may_be_as_found = may_be_as_found or isinstance(error, AboveMaximum)
    unknown = set(typed) - {plan["key"] for plan in plans}
    if unknown:
        errors |= dict.fromkeys(unknown, "This step has no such reading.")
    if errors:
        raise ReadingsRefused(errors, may_be_as_found=may_be_as_found)
    return taken


def unit_of(plan: Mapping[str, Any], units: Mapping[str, str]) -> str:
    """The unit printed beside a reading."""
    return units.get(plan["quantity"]) or plan["unit"]


def _read(
    plan: Mapping[str, Any], text: str, unit: str, max_pressure_pa: float | None, above_maximum_is_meant: bool
) -> TypedReading:
    dimension = plan["quantity"]
    if len(text) > 40:
        raise UnitError("That is too long for a reading.")
    magnitude = parse(text, dimension, unit)
    low, high = (_bound(plan, name) for name in ("low", "high"))
    if (low is not None and magnitude < low) or (high is not None and magnitude > high):
        raise UnitError(_out_of_range(low, high, dimension, unit))
    if dimension in ("clicks", "count") and abs(magnitude - round(magnitude)) > 1e-9:
        raise UnitError("Count whole ones, for example 7.")
    if dimension == "pressure" and max_pressure_pa is not None and magnitude > max_pressure_pa * (1 + 1e-9):
        _refuse_above_maximum(plan, show(max_pressure_pa, "pressure", unit), above_maximum_is_meant)
    written = show(magnitude, dimension, unit) if _is_bare_number(text) else text
    return TypedReading(plan["key"], magnitude, written)


def _bound(plan: Mapping[str, Any], name: str) -> float | None:
    text = plan.get(name)
    return parse(text, plan["quantity"], plan["unit"]) if text else None


def _out_of_range(low: float | None, high: float | None, dimension: str, unit: str) -> str:
    if low is not None and high is not None:
        return f"Enter a value from {show(low, dimension, unit)} to {show(high, dimension, unit)}."
    if low is not None:
        return f"Enter {show(low, dimension, unit)} or more."
    return f"Enter {show(high or 0.0, dimension, unit)} or less."


def _refuse_above_maximum(plan: Mapping[str, Any], maximum: str, is_meant: bool) -> None:
    if plan.get("measures") not in AS_FOUND:
        raise UnitError(
            f"This fork's maximum is {maximum}. Let air out below that, read again and enter what it shows."
        )
    if not is_meant:
        raise AboveMaximum(
            f"This fork's maximum is {maximum}. Check gauge and unit. If it really came in like this, let air out "
            "below the maximum first, then tick that it was found so."
        )


def _is_bare_number(text: str) -> bool:
    return all(character.isdigit() or character in "+-−.," for character in text)
