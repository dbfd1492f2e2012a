"""Asking for a value to convert."""

from __future__ import annotations

from typing import Any

from django import forms

from specs.units import DIMENSIONS, UnitError
from workshop.sums.answer import Answer
from workshop.sums.forms.base import GroupPlan, SumForm
from workshop.sums.unit_table import CONVERTIBLE, convert, dimension_of, has_unit


class UnitsForm(SumForm):
    """A value with a unit; the kind is only needed where none was typed."""

    value = forms.CharField(
        label="Value with its unit",
        max_length=40,
        help_text="For example 82 psi, 5,6 bar, 70 in·lbf or 12 fl oz.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}),
    )
    kind = forms.ChoiceField(
        label="What it is",
        required=False,
        help_text="Only needed for a number without a unit.",
        choices=[("", "as its unit says"), *((key, DIMENSIONS[key].label) for key in CONVERTIBLE)],
    )

    groups = (GroupPlan("What to convert", ("value", "kind")),)

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        typed, kind = self.cleaned_data.get("value"), self.cleaned_data.get("kind")
        if typed:
            try:
                self.dimension = self._dimension(typed, kind or "")
            except UnitError as error:
                self.add_error("value", str(error))
        return cleaned

    def _dimension(self, typed: str, kind: str) -> str:
        if kind:
            convert(typed, kind, self.shop.unit_for)
            return kind
        if not has_unit(typed):
            raise UnitError("Add the unit, for example 82 psi, or say what it is.")
        dimension = dimension_of(typed)
        convert(typed, dimension, self.shop.unit_for)
        return dimension

    def work_out(self) -> Answer:
        return convert(self.cleaned_data["value"], self.dimension, self.shop.unit_for)
