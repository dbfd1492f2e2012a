"""Forms of a torque tool's care: a calibration with its certificate, a loan, a check against a reference."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.staff.models import Shop
from workshop.tickets.attached import MOST_BYTES
from workshop.torque.care_models import Calibration
from workshop.torque.certificates import Certificate, read_certificate
from workshop.web.fields import DecimalNumberField, quantity_field
from workshop.web.uploads import file_name

_DATE = {"type": "date"}
_INVALID_DAY = "Enter a day as 2026-11-30."
_PERCENT = {"inputmode": "decimal", "autocomplete": "off"}


class CertificateField(forms.FileField):
    """One PDF or picture, looked at while it is validated."""

    def clean(self, data: Any, initial: Any = None) -> Certificate | None:
        return read_certificate(data, name=file_name(data)) if data else None


class CalibrationForm(forms.Form):
    """What stands on the certificate."""

    on = forms.DateField(
        label="Calibrated on",
        widget=forms.DateInput(attrs=_DATE, format="%Y-%m-%d"),
        error_messages={"required": "Choose the day on the certificate.", "invalid": _INVALID_DAY},
    )
    due = forms.DateField(
        label="Due again on",
        widget=forms.DateInput(attrs=_DATE, format="%Y-%m-%d"),
        help_text="ISO 6789 takes 12 months or 5,000 cycles where the shop has no rule of its own.",
        error_messages={"required": "Choose until when it holds.", "invalid": _INVALID_DAY},
    )
    by_whom = forms.CharField(label="By whom", max_length=120, help_text="The laboratory or the person.")
    as_found = forms.ChoiceField(
        label="As found", choices=Calibration.Result.choices, initial=Calibration.Result.NOT_STATED
    )
    found_percent = DecimalNumberField(
        label="Greatest deviation as found, %", required=False, min_value=0, max_value=100, decimal_places=2,
        widget=forms.TextInput(attrs=_PERCENT),
    )  # fmt: skip
    as_left = forms.ChoiceField(label="As left", choices=Calibration.Result.choices, initial=Calibration.Result.WITHIN)
    left_percent = DecimalNumberField(
        label="Greatest deviation as left, %", required=False, min_value=0, max_value=100, decimal_places=2,
        widget=forms.TextInput(attrs=_PERCENT),
    )  # fmt: skip
    certificate = CertificateField(
        label="Certificate",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "application/pdf,image/jpeg,image/png,image/webp"}),
        help_text=f"A PDF or a picture, up to {MOST_BYTES // 1024 // 1024} MB.",
    )

    @property
    def typed(self) -> dict[str, Any]:
        """What the calibration is made of; shares instead of percent."""
        values = dict(self.cleaned_data)
        for name in ("found", "left"):
            percent = values.pop(f"{name}_percent")
            values[f"{name}_share"] = None if percent is None else float(percent) / 100
        return values


class LendForm(forms.Form):
    to = forms.CharField(
        label="Lent to", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Say who has it."},
    )  # fmt: skip


class CheckForm(forms.Form):
    """What the reference said, and what the tool."""

    def __init__(self, shop: Shop, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        why = "Torque tools work between these."
        for name, label in (("reference_nm", "Reference"), ("read_nm", "The tool")):
            self.fields[name] = quantity_field(
                shop, "torque", label=label, low_si=0.01, high_si=1000.0, why_range=why, required=True
            )
