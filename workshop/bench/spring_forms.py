"""Readings that give a spring's geometry where no manual does."""

from __future__ import annotations

from typing import Any

from django import forms

from specs.physics.air_spring import ChamberFit, ContradictoryReading, ImpossibleValue, fit_chamber_length
from specs.physics.atmosphere import pressure_at_altitude
from workshop.staff.models import Shop
from workshop.web.fields import quantity_field

PAIRS = 5
FEWEST = 3
_DEEPEST_M, _HIGHEST_PA = 0.25, 2.8e6


class FitForm(forms.Form):
    """Three to five pairs of travel and pump reading, the pump left on. Sent by GET, so that the link keeps them."""

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ambient_pa = pressure_at_altitude(shop.altitude_m)
        self.fit: ChamberFit | None = None
        for number in range(1, PAIRS + 1):
            wanted = number <= FEWEST
            self.fields[f"travel_{number}"] = quantity_field(
                shop, "length", label=f"Travel {number}", required=wanted, low_si=0.0, high_si=_DEEPEST_M
            )
            self.fields[f"reading_{number}"] = quantity_field(
                shop, "pressure", label=f"Reading {number}", required=wanted, low_si=0.0, high_si=_HIGHEST_PA
            )

    def pairs(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"travel_{number}"], self[f"reading_{number}"]) for number in range(1, PAIRS + 1)]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        readings = []
        for number in range(1, PAIRS + 1):
            travel_m, reading_pa = cleaned.get(f"travel_{number}"), cleaned.get(f"reading_{number}")
            if travel_m is not None and reading_pa is not None:
                readings.append((travel_m, reading_pa))
            elif (travel_m is None) != (reading_pa is None) and number > FEWEST:
                missing = f"travel_{number}" if travel_m is None else f"reading_{number}"
                self.add_error(missing, "A travel and its reading go together.")
        if not self.errors:
            self._fit(readings)
        return cleaned

    def _fit(self, readings: list[tuple[float, float]]) -> None:
        try:
            self.fit = fit_chamber_length(readings, ambient_pa=self.ambient_pa)
        except ContradictoryReading as contradiction:
            self.add_error(None, f"{contradiction.reason.capitalize()}. {contradiction.likely_slip}")
        except ImpossibleValue as impossible:
            self.add_error(None, f"{impossible.reason.capitalize()}.")
