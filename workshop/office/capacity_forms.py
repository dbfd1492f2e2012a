"""The form of the bench's hours."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.promise.models import WEEKDAYS, BenchCapacity
from workshop.web.fields import DecimalNumberField, WholeNumberField

_NUMBER = {"inputmode": "decimal", "autocomplete": "off"}


class CapacityForm(forms.Form):
    """Mechanics, hours, and what to reckon with where nothing is known."""

    mechanics = WholeNumberField(
        label="Mechanics at the bench",
        min_value=1,
        max_value=50,
        widget=forms.TextInput(attrs=_NUMBER),
        error_messages={"min_value": "At least one mechanic works at the bench."},
    )
    hours_a_day = DecimalNumberField(
        label="Hours each, a day",
        min_value=Decimal("0.25"),
        max_value=24,
        decimal_places=2,
        widget=forms.TextInput(attrs=_NUMBER),
        help_text="At the bench, without calls and the counter.",
        error_messages={
            "min_value": "Enter the hours of a day, from 0.25 to 24.",
            "max_value": "Enter the hours of a day, from 0.25 to 24.",
        },
    )
    closed_weekdays = forms.TypedMultipleChoiceField(
        label="The bench rests on",
        choices=WEEKDAYS,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    usual_minutes = WholeNumberField(
        label="Minutes of a ticket without a checklist",
        min_value=1,
        max_value=6000,
        widget=forms.TextInput(attrs=_NUMBER),
        error_messages={"min_value": "Enter minutes above zero."},
    )
    unknown_lead_days = WholeNumberField(
        label="Days for a part of unknown delivery",
        min_value=0,
        max_value=365,
        widget=forms.TextInput(attrs=_NUMBER),
        error_messages={"min_value": "Days cannot be less than 0."},
    )

    @classmethod
    def of(cls, capacity: BenchCapacity) -> CapacityForm:
        names = ("mechanics", "hours_a_day", "closed_weekdays", "usual_minutes", "unknown_lead_days")
        initial: dict[str, Any] = {name: getattr(capacity, name) for name in names}
        return cls(initial=initial)

    def clean_closed_weekdays(self) -> list[int]:
        weekdays: list[int] = self.cleaned_data["closed_weekdays"]
        if len(set(weekdays)) > 6:
            raise forms.ValidationError("Leave at least one day open.")
        return weekdays


class ClosedDayForm(forms.Form):
    day = forms.DateField(
        label="Closed on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "Choose the day.", "invalid": "Enter a day as 2026-12-24."},
    )
    why = forms.CharField(label="Why", required=False, max_length=60)
