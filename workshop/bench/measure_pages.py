"""What the pages of a measured fork show, in the shop's units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from specs.measured_readings import read_lines
from specs.models import SpecValue
from specs.physics.measured_fork import Diameters, Fitted, ForkFit
from specs.quantities import QUANTITIES
from specs.units import show
from workshop.plots.measured_curve import MeasuredCurve, measured_curve, with_model
from workshop.staff.models import Shop
from workshop.suspension.measured_models import ForkMeasurement
from workshop.suspension.measuring import KEY_OF, fit_of


@dataclass(frozen=True)
class FittedRow:
    """One fitted quantity: value and interval, the model's value, and what of it may be taken over."""

    label: str
    value: str
    interval: str
    of_model: str
    verdict: str
    is_taken: bool


@dataclass(frozen=True)
class MeasuredRow:
    """One reading, what the fit says there, and the difference."""

    line: int
    pressure: str
    travel: str
    direction: str
    force: str
    fitted: str
    off: str


@dataclass(frozen=True)
class MeasurementShown:
    """A measurement as its page shows it."""

    rows: tuple[FittedRow, ...]
    readings: tuple[MeasuredRow, ...]
    spread: str
    confidence: str
    curve: MeasuredCurve
    may_be_taken: bool


def measurement_shown(measurement: ForkMeasurement, values: Mapping[str, SpecValue], shop: Shop) -> MeasurementShown:
    """The fit with its intervals, the residual of each reading, and the drawing. No query."""
    fit, drawing = fit_of(measurement), Diameters(**measurement.drawing)
    lines = read_lines(measurement.lines, travel_m=drawing.travel_m)
    known = {name: (values[key].magnitude_si if key in values else None) for name, key in KEY_OF.items()}
    readings = [one.reading for one in lines]
    rows = tuple(_row(one, known[one.name], shop) for one in fit.fitted)
    return MeasurementShown(
        rows=rows,
        readings=tuple(
            MeasuredRow(
                line=one.line,
                pressure=_written(one.reading.pressure_pa, "pressure", shop),
                travel=_written(one.reading.travel_m, "length", shop),
                direction=one.reading.direction,
                force=_written(one.reading.force_n, "force", shop),
                fitted=_written(one.reading.force_n - residual, "force", shop),
                off=f"{residual:+.1f} N".replace("-", "−"),
            )
            for one, residual in zip(lines, fit.residuals_n, strict=True)
        ),
        spread=f"{fit.spread_n:.2g} N",
        confidence=f"{fit.confidence:.0%}",
        curve=measured_curve(
            readings, drawing, fit.values, shop.unit_for, ambient_pa=measurement.ambient_pa,
            model=with_model(fit.values, known),
        ),
        may_be_taken=any(row.is_taken for row in rows),
    )  # fmt: skip


def taken_in_words(fit: ForkFit) -> str:
    """What is taken over, in one line."""
    return ", ".join(_label(one).lower() for one in fit.fitted if one.may_be_taken)


def _label(one: Fitted) -> str:
    return QUANTITIES[KEY_OF[one.name]].label


def _row(one: Fitted, known: float | None, shop: Shop) -> FittedRow:
    dimension = QUANTITIES[KEY_OF[one.name]].dimension or "length"
    of_model = "not known" if known is None else _written(known, dimension, shop)
    if one.held:
        return FittedRow(
            _label(one), of_model, "", of_model, "The readings say too little of it: held at the model’s.", False
        )
    endless = one.band.high == float("inf")
    interval = (
        "" if endless or one.band.low == one.band.high
        else f"{_written(one.band.low, dimension, shop)} to {_written(one.band.high, dimension, shop)}"
    )  # fmt: skip
    verdict = "Poorly determined: not taken over." if one.is_poor else "Well determined."
    return FittedRow(
        _label(one), _written(one.band.mid, dimension, shop), interval, of_model, verdict, one.may_be_taken
    )


def _written(magnitude_si: float, dimension: str, shop: Shop) -> str:
    return show(magnitude_si, dimension, shop.unit_for(dimension))
