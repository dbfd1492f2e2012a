"""What a reading can be held against, and the yardstick that makes on one unit. Pure.

A checklist file names these in the fields of a reading: `wanted` what it is to be, `most` what it may never pass.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

from diagnosis.declared import ARRIVAL_PRESSURE
from diagnosis.judging import WantedSpan, Yardstick
from specs.physics.torque import TOOL_DEVIATION
from specs.quantities import QUANTITIES, other_leg

Kind = Literal["value", "up_to", "share"]

TRAVEL, SETTING, SAG, MAX_PRESSURE = "travel", "pressure_setting", "sag", "max_pressure"

OF_THE_DAMPER = frozenset({"gas_charge_pressure", "bleed_pressure"})

# How far a value may be off where the maker gives no tolerance; common practice, no published source.
_SHARE_OFF: Mapping[str, float] = {"volume": 0.05, "torque": TOOL_DEVIATION, "pressure": 0.02, "length": 0.02}
_LEAST_OFF: Mapping[str, float] = {"volume": 0.5e-6, "pressure": 2 * 6894.757293168361, "length": 0.001}
# A bolt tightened by a torque wrench is laid out for about a quarter of scatter (VDI 2230, from memory): where the
# maker gives no tolerance, nothing above that is taken.
TORQUE_TOP = 1.25


@dataclass(frozen=True)
class Wanted:
    """One thing a reading of `dimension` can be held against, in words; the spec quantities it is made of.

    `value`: one value with its tolerance. `up_to`: from nought to it. `share`: from the first quantity to the second,
    shares of the unit's travel. `is_set`: it is set by the mechanic, not measured, so it may be entered as shown.
    """

    key: str
    label: str
    dimension: str
    kind: Kind
    quantities: tuple[str, ...] = ()
    is_set: bool = False


def _of_quantities() -> dict[str, Wanted]:
    found = {}
    for key, quantity in QUANTITIES.items():
        if quantity.dimension in ("volume", "torque") and quantity.group in ("oil", "torque"):
            found[key] = Wanted(key, quantity.label, quantity.dimension, "value", (key,), is_set=True)
        elif quantity.dimension == "clicks":
            found[key] = Wanted(key, quantity.label, "clicks", "up_to", (key,))
        elif key in OF_THE_DAMPER:
            found[key] = Wanted(key, quantity.label, "pressure", "value", (key,), is_set=True)
    return found


WANTED: Mapping[str, Wanted] = {
    **_of_quantities(),
    SAG: Wanted(SAG, "Sag", "length", "share", ("sag_low", "sag_high")),
    TRAVEL: Wanted(TRAVEL, "Travel of the unit", "length", "value"),
    SETTING: Wanted(SETTING, "Pressure it came with, as written at the counter", "pressure", "value"),
}
"""Everything `wanted` of a reading can name."""

MOST: Mapping[str, str] = dict.fromkeys((MAX_PRESSURE, "max_pressure_negative", "max_pressure_ramp"), "pressure")
"""Everything `most` of a reading can name, and of which dimension it is."""


class Known(Protocol):
    """A spec value: magnitude and tolerance in SI, None where there is none."""

    @property
    def magnitude_si(self) -> float | None: ...

    @property
    def tolerance_si(self) -> float | None: ...


@dataclass(frozen=True)
class UnitKnown:
    """What is known of one unit: spec values by quantity, its travel, and the pressure it came with at the counter."""

    values: Mapping[str, Known] = field(default_factory=dict)
    travel_m: float | None = None
    setting_pa: float | None = None
    kind: str = "fork"

    def magnitude(self, key: str) -> float | None:
        value = self.values.get(key)
        return None if value is None else value.magnitude_si


def is_judged(plan: Mapping[str, Any]) -> bool:
    """Whether a reading, as a stored version writes it, is held against anything at all."""
    return bool(plan.get("wanted") or most_of(plan))


def most_of(plan: Mapping[str, Any]) -> str:
    """What the reading may never pass. No pressure of air is free of a maximum, whether its file says so or is older.

    Gas and oil of a damper are held against their own value, for the spring's maximum says nothing of them.
    """
    if plan.get("wanted") in OF_THE_DAMPER:
        return ""
    return str(plan.get("most") or (MAX_PRESSURE if plan["quantity"] == "pressure" else ""))


def is_as_found(plan: Mapping[str, Any]) -> bool:
    """Whether it is a fact from before anybody touched the unit; the pump reading on arrival always was one."""
    return bool(plan.get("as_found")) or plan.get("measures") == ARRIVAL_PRESSURE


def yardstick_of(plan: Mapping[str, Any], known: UnitKnown, *, torque_share: float | None = None) -> Yardstick:
    """The yardstick of a reading on this unit. A key that this version of the app does not know judges nothing.

    `torque_share` is what the tool may be off by, where the maker gives no tolerance.
    """
    wanted = WANTED.get(str(plan.get("wanted") or ""))
    most_key = most_of(plan)
    most = known.magnitude(most_key) if most_key else None
    span, other, whole = None, None, None
    missing: tuple[str, ...] = ()
    if wanted is not None:
        span = _span(wanted, known, torque_share)
        whole = known.travel_m if wanted.kind == "share" else None
        missing = () if span is not None else _missing(wanted, known)
        twin = other_leg(wanted.key)
        other = _span(WANTED[twin], known) if twin in WANTED else None
    says = f"the maximum of this {known.kind}"
    if wanted is not None and wanted.dimension == "torque" and span is not None and most is None:
        most, says = _top_of(wanted, span, known), "the top of the range on record"
    return Yardstick(
        wanted=span,
        other=other,
        most=most,
        most_says=says,
        whole=whole,
        missing=missing,
        as_shown=wanted is not None and wanted.is_set,
        as_found=is_as_found(plan),
    )


def _span(wanted: Wanted, known: UnitKnown, torque_share: float | None = None) -> WantedSpan | None:
    if wanted.kind == "share":
        low, high = (known.magnitude(key) for key in wanted.quantities)
        if low is None or high is None or known.travel_m is None:
            return None
        return WantedSpan(wanted.label, low * known.travel_m, high * known.travel_m)
    if wanted.key in (TRAVEL, SETTING):
        value, tolerance = (known.travel_m if wanted.key == TRAVEL else known.setting_pa), None
    else:
        spec = known.values.get(wanted.key)
        value, tolerance = (None, None) if spec is None else (spec.magnitude_si, spec.tolerance_si)
    if value is None:
        return None
    if wanted.kind == "up_to":
        return WantedSpan(wanted.label, 0.0, value)
    off = tolerance
    if off is None:
        share = torque_share if torque_share and wanted.dimension == "torque" else _SHARE_OFF[wanted.dimension]
        off = max(value * share, _LEAST_OFF.get(wanted.dimension, 0.0))
    return WantedSpan(wanted.label, max(value - off, 0.0), value + off, value)


def _top_of(wanted: Wanted, span: WantedSpan, known: UnitKnown) -> float:
    spec = known.values.get(wanted.key)
    has_tolerance = spec is not None and spec.tolerance_si is not None
    return span.high if has_tolerance else max(span.high, (span.value or 0.0) * TORQUE_TOP)


def _missing(wanted: Wanted, known: UnitKnown) -> tuple[str, ...]:
    if wanted.key in (TRAVEL, SETTING):
        return (wanted.label,)
    labels = [QUANTITIES[key].label for key in wanted.quantities if known.magnitude(key) is None]
    if wanted.kind == "share" and known.travel_m is None:
        labels.append(WANTED[TRAVEL].label)
    return tuple(labels)
