"""Forms of a mechanic's calendar, and of the public holidays the bench keeps."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.promise.closed import countries, subdivisions
from workshop.promise.models import DAY_FIELDS, WEEKDAYS, WITHIN_A_DAY, Absence, BenchCapacity, MechanicWeek
from workshop.web.fields import DecimalNumberField

_DATE = {"type": "date"}
_INVALID_DAY = "Enter a day as 2026-12-24."


class WeekForm(forms.Form):
    """Hours at the bench, day by day."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, words in WEEKDAYS:
            self.fields[DAY_FIELDS[number]] = DecimalNumberField(
                label=f"{words}, h",
                required=False,
                min_value=0,
                max_value=24,
                decimal_places=2,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                error_messages={"min_value": WITHIN_A_DAY, "max_value": WITHIN_A_DAY},
            )

    @classmethod
    def of(cls, week: MechanicWeek) -> WeekForm:
        return cls(initial={name: _plain(getattr(week, name)) for name in DAY_FIELDS})

    @property
    def hours(self) -> list[Decimal]:
        """Monday first; a field left empty is no hour."""
        return [self.cleaned_data[name] or Decimal(0) for name in DAY_FIELDS]


class AbsenceForm(forms.Form):
    """From when to when somebody is away."""

    first = forms.DateField(
        label="Away from",
        widget=forms.DateInput(attrs=_DATE, format="%Y-%m-%d"),
        error_messages={"required": "Choose the first day.", "invalid": _INVALID_DAY},
    )
    last = forms.DateField(
        label="To, with that day",
        widget=forms.DateInput(attrs=_DATE, format="%Y-%m-%d"),
        error_messages={"required": "Choose the last day.", "invalid": _INVALID_DAY},
    )
    half = forms.BooleanField(label="Half of each day", required=False)
    kind = forms.ChoiceField(label="Kind", choices=Absence.Kind.choices)
    reason = forms.CharField(
        label="Reason", required=False, max_length=120, help_text="Kind and reason are shown to the owner alone."
    )


class HolidaysForm(forms.Form):
    """The country, and its part where it has parts, whose public holidays the bench keeps."""

    country = forms.ChoiceField(label="Country", required=False)
    subdivision = forms.ChoiceField(label="Part of the country", required=False)

    def __init__(self, *args: Any, country: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["country"].choices = [("", "none: days are closed by hand"), *countries()]  # type: ignore[attr-defined]
        parts = subdivisions(country)
        if parts:
            everywhere = ("", "only what holds everywhere")
            self.fields["subdivision"].choices = [everywhere, *parts]  # type: ignore[attr-defined]
        else:
            del self.fields["subdivision"]

    @classmethod
    def of(cls, capacity: BenchCapacity) -> HolidaysForm:
        country = capacity.holiday_country
        return cls(initial={"country": country, "subdivision": capacity.holiday_subdivision}, country=country)


def _plain(hours: Decimal | int) -> str:
    return f"{Decimal(hours).normalize():f}"
