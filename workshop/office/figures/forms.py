"""The period of the figures, as the owner types it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from workshop.office.figures.period import LONGEST_YEARS, Period

EARLIEST = dt.date(1990, 1, 1)


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "Choose a day.",
            "invalid": "Enter a day of the calendar, such as 2026-06-30.",
        },
    )


class PeriodForm(forms.Form):
    """From a day to a day, both included."""

    first = _day("From")
    last = _day("To (inclusive)")

    def clean_first(self) -> dt.date:
        first: dt.date = self.cleaned_data["first"]
        if first < EARLIEST:
            raise ValidationError(f"Choose a day from {EARLIEST.year} on.")
        if first > timezone.localdate():
            raise ValidationError("That day is still to come.")
        return first

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first: dt.date | None = cleaned.get("first")
        last: dt.date | None = cleaned.get("last")
        if first and last and last < first:
            raise ValidationError({"last": "This day is before the first one."})
        if first and last and (last - first).days > LONGEST_YEARS * 366:
            raise ValidationError({"last": f"Choose {LONGEST_YEARS} years or fewer."})
        return cleaned

    @property
    def period(self) -> Period:
        return Period(self.cleaned_data["first"], self.cleaned_data["last"])
