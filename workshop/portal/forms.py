"""What a customer tells of their riding."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from workshop.intervals.models import WeeklyHours
from workshop.web.fields import FloatNumberField

SUFFIXES = ".gpx,.zip,application/gpx+xml,application/zip"


class WeeklyHoursForm(forms.Form):
    """Hours a week, and what the riding is like."""

    hours_per_week = FloatNumberField(
        label=gettext_lazy("Hours you ride it in a usual week"),
        min_value=0,
        max_value=80,
        error_messages={
            "invalid": gettext_lazy("Enter a number of hours, such as 4 or 2.5."),
            "required": gettext_lazy("Enter the hours of a usual week, 0 if you do not ride it at present."),
            "min_value": gettext_lazy("Hours cannot be less than 0."),
            "max_value": gettext_lazy("A week leaves no more than 80 hours to ride."),
        },
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    conditions = forms.ChoiceField(
        label=gettext_lazy("Where you ride is"),
        choices=WeeklyHours.Conditions.choices,
        initial=WeeklyHours.Conditions.DRY,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["hours_per_week"].unit = "h"  # type: ignore[attr-defined]


class TracksForm(forms.Form):
    """A GPX file, or a zip of many."""

    tracks = forms.FileField(
        label=gettext_lazy("Rides from your device"),
        help_text=gettext_lazy(
            "A GPX file, or a zip file of many. Only times and how long you moved are kept, not where you rode."
        ),
        widget=forms.ClearableFileInput(attrs={"accept": SUFFIXES}),
        error_messages={"required": gettext_lazy("Choose a GPX file, or a zip file of GPX files.")},
        allow_empty_file=True,
    )
