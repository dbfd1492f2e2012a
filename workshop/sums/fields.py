"""Fields that only the sums need: values whose unit no shop chooses, and a sag as a depth or a share."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from specs.numbers import TWO_READINGS, NumberRefused, read_number, split_number
from specs.units import NumberUnclear, UnitError, from_si, number_text, parse, show
from workshop.staff.models import Shop
from workshop.web.fields import QuantityField, quantity_field

ALTITUDE_UNITS: Mapping[str, float] = {"m": 1.0, "ft": 0.3048, "km": 1000.0}
VISCOSITY_UNITS: Mapping[str, float] = {"mm²/s": 1.0, "mm2/s": 1.0, "cst": 1.0}


class ScaledField(forms.CharField):
    """A number in one of a few units, given back in the first. `low` and `high` bound it, with the reason."""

    def __init__(
        self,
        *,
        units: Mapping[str, float],
        low: float,
        high: float,
        example: str,
        why_range: str = "",
        as_written: bool = False,
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.as_written = as_written
        self.units, self.unit = units, next(iter(units))
        self.low, self.high, self.example, self.why_range = low, high, example, why_range
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        number_text, unit_text = split_number(text)
        try:
            number = float(read_number(number_text, as_written=self.as_written))
        except NumberRefused as refused:
            asked = str(refused) if refused.code == TWO_READINGS else f"Enter a number, for example {self.example}."
            raise forms.ValidationError(asked, code="number") from None
        unit = re.sub(r"\s+", "", unit_text).lower()
        if unit and unit not in self.units:
            raise forms.ValidationError(
                f"The unit “{unit_text}” is not known here. Enter for example {self.example}.", code="unit"
            )
        scaled = number * self.units[unit or self.unit]
        if not self.low <= scaled <= self.high:
            bounds = f"{self.low:,g} to {self.high:,g} {self.unit}".replace("-", "−")
            raise forms.ValidationError(f"Enter a value from {bounds}. {self.why_range}".strip(), code="range")
        return scaled


@dataclass(frozen=True)
class Sag:
    """A sag as it was typed: a depth in metres, or a share of the travel."""

    depth_m: float | None = None
    share: float | None = None

    def of(self, travel_m: float) -> float:
        """The depth in metres on a fork of that travel."""
        return self.depth_m if self.depth_m is not None else (self.share or 0.0) * travel_m


class SagField(forms.CharField):
    """A sag as a depth ("26 mm") or a share ("20 %"); a bare number takes the unit beside the field."""

    def __init__(self, *, unit: str, length_unit: str, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.unit, self.length_unit = unit, length_unit
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        dimensions = ("fraction", "length") if self.unit == "%" else ("length", "fraction")
        units = {"fraction": "%", "length": self.length_unit}
        for dimension in dimensions:
            try:
                magnitude = parse(text, dimension, units[dimension])
            except NumberUnclear as unclear:
                raise forms.ValidationError(str(unclear), code="number") from None
            except UnitError:
                continue
            return self._bounded(magnitude, dimension)
        raise forms.ValidationError("Enter a depth or a share, for example 26 mm or 20 %.", code="unit")

    def _bounded(self, magnitude: float, dimension: str) -> Sag:
        if magnitude <= 0 or magnitude >= 1:  # a share of the whole travel, or a metre
            whole = "100 %" if dimension == "fraction" else f"{number_text(from_si(1.0, 'length', 'mm'), 'mm')} mm"
            raise forms.ValidationError(f"Enter more than 0 and less than {whole}: no fork sags further.", code="range")
        return Sag(share=magnitude) if dimension == "fraction" else Sag(depth_m=magnitude)


def altitude_field(**kwargs: Any) -> ScaledField:
    """A height above sea level in metres; feet can be typed."""
    return ScaledField(
        units=ALTITUDE_UNITS,
        low=-500.0,
        high=5000.0,
        example="1200 m",
        why_range="The standard atmosphere used here reaches no further.",
        required=False,
        **kwargs,
    )


def viscosity_field(**kwargs: Any) -> ScaledField:
    """A kinematic viscosity in mm²/s."""
    return ScaledField(units=VISCOSITY_UNITS, example="32 mm²/s", required=False, as_written=True, **kwargs)


def temperature_field(shop: Shop, *, low_c: float, high_c: float, why_range: str, **kwargs: Any) -> QuantityField:
    """A temperature in kelvin, typed in the shop's unit or any other."""
    return quantity_field(
        shop,
        "temperature",
        low_si=low_c + 273.15,
        high_si=high_c + 273.15,
        why_range=why_range,
        required=False,
        **kwargs,
    )


def written_in_field(shop: Shop, magnitude_si: float, dimension: str) -> str:
    """An SI magnitude in the shop's unit."""
    return show(magnitude_si, dimension, shop.unit_for(dimension))
