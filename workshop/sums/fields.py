"""Fields that only the sums need: values whose unit no shop chooses."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from django import forms

from specs.numbers import TWO_READINGS, NumberRefused, read_number, split_number
from specs.units import show
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
