"""Readings of an invented fork for tests, made up by the free body of tests/published/free_body.py."""

from __future__ import annotations

from dataclasses import asdict
from functools import cache
from typing import Any

from django.utils import timezone

from specs.lookup import GEOMETRY
from specs.physics.measured_fork import ForceReading, fit_fork
from tests.factories import SpecValueFactory
from tests.published.free_body import AMBIENT, Drawing
from tests.published.test_measured_fork import DRAWING, made_up
from workshop.models import ForkMeasurement, SuspensionUnit, User
from workshop.suspension.measuring import fit_as_json

HEADER = "pressure;temperature;travel;force;direction\n"


def as_lines(readings: list[ForceReading]) -> str:
    """Readings as a person types them: pascals and metres in psi and millimetres, to what can be read."""
    return HEADER + "".join(
        f"{one.pressure_pa / 6894.757293168361:.1f};20;{one.travel_m * 1000:.1f};{one.force_n:.1f};{one.direction}\n"
        for one in readings
    )


@cache
def lines(noise_n: float = 1.0, seed: int = 1) -> str:
    """Readings of the drawing of the free body, with what scales add."""
    return as_lines(made_up(noise_n, seed))


def with_drawing(unit: SuspensionUnit, *, leave: tuple[str, ...] = (), **changed: float) -> None:
    """Give the unit's model the values of the free body's drawing, but for some."""
    assert unit.model is not None
    of_drawing = {key: getattr(Drawing(), name) for key, name in GEOMETRY.items()} | changed
    for key, value in of_drawing.items():
        if key not in leave:
            SpecValueFactory(model=unit.model, quantity=key, travel_mm=0, magnitude_si=value, typed=f"{value:g}")


def measurement_of(unit: SuspensionUnit, by: User, **fields: Any) -> ForkMeasurement:
    """A row as `measure_fork` writes it."""
    fit = fit_fork(made_up(1.0, 1), DRAWING, ambient_pa=AMBIENT)
    return ForkMeasurement.objects.create(
        **{
            "unit": unit, "means": "scales", "made_up": False, "lines": lines(), "ambient_pa": AMBIENT,
            "drawing": asdict(DRAWING), "fit": fit_as_json(fit), "entered_by": by, "entered_at": timezone.now(),
            **fields,
        }
    )  # fmt: skip
