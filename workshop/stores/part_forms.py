"""Forms of parts and kits."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from specs.models import Part
from specs.parts_editing import PartData
from workshop.web.fields import DecimalNumberField

_NUMBER = {"inputmode": "decimal", "autocomplete": "off"}
_MEASURES = ("inside_mm", "section_mm", "stanchion_mm", "bottle_ml")


def _measure(label: str, unit: str, help_text: str = "") -> DecimalNumberField:
    field = DecimalNumberField(
        label=label,
        required=False,
        min_value=Decimal("0.01"),
        max_value=Decimal(9999),
        decimal_places=2,
        widget=forms.TextInput(attrs=_NUMBER),
        help_text=help_text,
        error_messages={"min_value": "Enter a number above zero.", "invalid": "Enter a number, for example 12.5."},
    )
    field.unit = unit  # type: ignore[attr-defined]
    return field


class PartForm(forms.Form):
    """What a part is. Its price and place are the stores'."""

    number = forms.CharField(label="Our number", max_length=30)
    description = forms.CharField(max_length=120, error_messages={"required": "Say what it is."})
    role = forms.ChoiceField(label="Type", choices=Part.Role.choices)
    measure = forms.ChoiceField(
        label="Counted in",
        choices=Part.Measure.choices,
        error_messages={"invalid_choice": "Parts are counted in pieces or in ml; choose one of them."},
    )
    inside_mm = _measure("O-ring: inside diameter", "mm")
    section_mm = _measure("O-ring: thickness", "mm", "A standard size of ISO 3601-1 is recognised.")
    stanchion_mm = _measure("Seal: for a stanchion of", "mm")
    bottle_ml = _measure("Poured: a bottle holds", "ml")
    size = forms.CharField(
        label="Size in words", max_length=60, required=False, help_text="If blank: made from the measures above."
    )

    @classmethod
    def of(cls, part: Part) -> PartForm:
        names = ("number", "description", "role", "measure", "size", *_MEASURES)
        return cls(initial={name: getattr(part, name) for name in names})

    @property
    def part_data(self) -> PartData:
        cleaned: dict[str, Any] = dict(self.cleaned_data)
        for name in ("inside_mm", "section_mm", "stanchion_mm"):
            cleaned[name] = None if cleaned[name] is None else float(cleaned[name])
        return PartData(**cleaned)
