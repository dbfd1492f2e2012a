"""Measuring a fork: reading the lines, fitting them, and taking the fit over as the geometry of that one unit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from specs.contradictions import COILS
from specs.lookup import GEOMETRY
from specs.measured_readings import LineRead, LinesRefused, read_lines
from specs.models import SpecValue
from specs.physics.band import Band
from specs.physics.errors import ImpossibleValue
from specs.physics.measured_fork import FITTED, Diameters, Fitted, ForkFit, fit_fork
from specs.physics.measured_slips import slips
from specs.quantities import QUANTITIES
from workshop.staff.models import User
from workshop.suspension.measured_models import ForkMeasurement
from workshop.suspension.models import SuspensionUnit

DIAMETERS = ("piston_bore", "air_shaft", "damper_shaft", "stanchion")
KEY_OF: Mapping[str, str] = {name: key for key, name in GEOMETRY.items() if name in FITTED}
"""Which spec quantity a fitted one stands in for."""


class CannotMeasure(ValueError):
    """This unit cannot be fitted at all; the message says what is missing."""


class MeasurementRefused(ValueError):
    """The step cannot count; the message says why in plain words."""


@dataclass(frozen=True)
class FittedLines:
    """Readings as they stand on their lines, and the fit."""

    lines: tuple[LineRead, ...]
    drawing: Diameters
    fit: ForkFit


def fitting_diameters(unit: SuspensionUnit, values: Mapping[str, SpecValue]) -> Diameters:
    """The diameters to fit with, from the values of its model. Raises CannotMeasure naming what is missing."""
    if unit.kind != "fork" or unit.facts().get("spring_kind") in COILS:
        raise CannotMeasure("Only the air spring of a fork is measured here.")
    if unit.travel_m is None:
        raise CannotMeasure("The travel of this fork is not on record. Enter it first.")
    known = {key: values[key].magnitude_si for key in DIAMETERS if key in values}
    missing = [QUANTITIES[key].label.lower() for key in DIAMETERS if known.get(key) is None]
    if missing:
        raise CannotMeasure(f"The fit needs the diameters of this model: {', '.join(missing)} missing from the specs.")
    return Diameters(unit.travel_m, **{GEOMETRY[key]: float(known[key] or 0.0) for key in DIAMETERS})


def fit_lines(
    text: str, drawing: Diameters, *, ambient_pa: float, values: Mapping[str, SpecValue] | None = None
) -> FittedLines:
    """Read and fit. What the readings say too little of is held at the model's value, where it has one.

    Raises LinesRefused with every line that cannot be meant, the likely slip named.
    """
    lines = read_lines(text, travel_m=drawing.travel_m)
    readings = [one.reading for one in lines]
    known = {
        name: value.magnitude_si
        for name, key in KEY_OF.items()
        if (value := (values or {}).get(key)) is not None and value.magnitude_si is not None
    }
    try:
        found = slips(readings, drawing, ambient_pa=ambient_pa)
        if found:
            raise LinesRefused({lines[place].line if place >= 0 else 0: said for place, said in found.items()})
        fit = fit_fork(readings, drawing, ambient_pa=ambient_pa, known=known)
    except ImpossibleValue as impossible:
        raise LinesRefused({0: f"Readings: {impossible.reason}."}) from impossible
    return FittedLines(tuple(lines), drawing, fit)


@transaction.atomic
def measure_fork(
    *, unit: SuspensionUnit, means: str, made_up: bool, text: str, ambient_pa: float, values: Mapping[str, SpecValue],
    by: User,
) -> ForkMeasurement:  # fmt: skip
    """Fit the lines and keep them with what came out. Nothing is calculated with it before it is taken over.

    Raises CannotMeasure or LinesRefused.
    """
    fitted = fit_lines(text, fitting_diameters(unit, values), ambient_pa=ambient_pa, values=values)
    measurement = ForkMeasurement(
        unit=unit,
        means=means,
        made_up=made_up,
        lines=text,
        ambient_pa=ambient_pa,
        drawing=asdict(fitted.drawing),
        fit=fit_as_json(fitted.fit),
        entered_by=by,
        entered_at=timezone.now(),
    )
    measurement.full_clean(exclude=["unit", "entered_by"], validate_constraints=False)
    measurement.save()
    return measurement


@transaction.atomic
def take_over(*, measurement: ForkMeasurement, by: User) -> None:
    """Calculate this unit with what was well determined, from now on; the rest stays the model's.

    Raises MeasurementRefused: made up, nothing to take, taken over before, or another one is in force.
    """
    if measurement.made_up:
        raise MeasurementRefused("These readings are made up, so they are no geometry of this fork.")
    values = {KEY_OF[one.name]: one.band.mid for one in fit_of(measurement).fitted if one.may_be_taken}
    if not values:
        raise MeasurementRefused("Nothing of it is determined well enough to be taken over.")
    try:
        with transaction.atomic():
            moved = ForkMeasurement.objects.filter(pk=measurement.pk, taken_over_at=None).update(
                taken_over_by=by, taken_over_at=timezone.now()
            )
    except IntegrityError:
        raise MeasurementRefused("Another measurement of this fork is in force. Take that one back first.") from None
    if not moved:
        raise MeasurementRefused("It was taken over before. Fit its readings anew to take it over again.")
    SuspensionUnit.objects.filter(pk=measurement.unit_id).update(
        measured={"measurement": measurement.pk, "values": values}
    )


@transaction.atomic
def check_measurement(*, measurement: ForkMeasurement, by: User) -> None:
    """Record that a second person looked at readings and fit. Raises MeasurementRefused."""
    if by.pk in (measurement.entered_by_id, measurement.taken_over_by_id):
        raise MeasurementRefused("You entered it or took it over yourself. A second person looks at it.")
    moved = ForkMeasurement.objects.filter(
        pk=measurement.pk, taken_over_at__isnull=False, taken_back_at=None, checked_at=None
    ).update(checked_by=by, checked_at=timezone.now())
    if not moved:
        raise MeasurementRefused("It is checked already, or it is not in force.")


@transaction.atomic
def take_measurement_back(*, measurement: ForkMeasurement, by: User) -> None:
    """Calculate this unit with its model's geometry again. Raises MeasurementRefused."""
    moved = ForkMeasurement.objects.filter(pk=measurement.pk, taken_over_at__isnull=False, taken_back_at=None).update(
        taken_back_by=by, taken_back_at=timezone.now()
    )
    if not moved:
        raise MeasurementRefused("It is not in force, so there is nothing to take back.")
    SuspensionUnit.objects.filter(pk=measurement.unit_id).update(measured=None)


def measured_in_words(unit: SuspensionUnit) -> str:
    """That a unit is calculated with what was measured on it, who read that and when; empty where it is not.

    A query, and only for a unit that was measured.
    """
    if not unit.measured:
        return ""
    one = ForkMeasurement.objects.select_related("entered_by", "taken_over_by", "checked_by").get(
        pk=unit.measured["measurement"]
    )
    what = "; ".join(QUANTITIES[key].label.lower() for key in unit.measured["values"])  # labels have commas
    checked = f"checked {_when(one.checked_at, one.checked_by)}" if one.checked_at else "not checked by a second person"
    return (
        f"Calculated with what was measured on this very {unit.kind}, not with its model’s values alone: {what}. "
        f"Readings ({one.get_means_display().lower()}) entered {_when(one.entered_at, one.entered_by)}; "
        f"taken over {_when(one.taken_over_at, one.taken_over_by)}; {checked}."
    )


def _when(at: dt.datetime | None, by: User | None) -> str:
    if at is None:
        return "at a time not recorded"
    day = timezone.localtime(at)
    return f"{day:%-d %b %Y} by {by or 'somebody not recorded'}"


def fit_as_json(fit: ForkFit) -> dict[str, Any]:
    """A fit as it is kept."""
    return {
        "confidence": fit.confidence,
        "spread_n": fit.spread_n,
        "residuals_n": list(fit.residuals_n),
        "fitted": [
            {
                "name": one.name, "low": _finite(one.band.low), "mid": one.band.mid, "high": _finite(one.band.high),
                "poor": one.is_poor, "held": one.held,
            }
            for one in fit.fitted
        ],
    }  # fmt: skip


def fit_of(measurement: ForkMeasurement) -> ForkFit:
    """A fit as it was kept."""
    kept = measurement.fit
    endless = float("inf")
    return ForkFit(
        fitted=tuple(
            Fitted(
                one["name"],
                Band(
                    0.0 if one["low"] is None else one["low"],
                    one["mid"],
                    endless if one["high"] is None else one["high"],
                ),
                is_poor=one["poor"],
                held=one["held"],
            )
            for one in kept["fitted"]
        ),
        residuals_n=tuple(kept["residuals_n"]),
        spread_n=kept["spread_n"],
        confidence=kept["confidence"],
    )


def _finite(value: float) -> float | None:
    """JSON has no endless numbers; None stands for one."""
    return value if abs(value) < float("inf") else None
