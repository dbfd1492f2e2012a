"""The minutes of a step, put right by hand."""

from __future__ import annotations

import uuid

from django import forms

from diagnosis.models import MinutesCorrection
from specs.numbers import TWO_READINGS, NumberRefused, read_number


class MinutesForm(forms.Form):
    minutes = forms.CharField(
        label="Minutes", max_length=12, error_messages={"required": "Enter the minutes, for example 12."}
    )
    client_id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def clean_minutes(self) -> float:
        """The word may stand behind the number."""
        text = self.cleaned_data["minutes"].lower().removesuffix("minutes").removesuffix("min").strip()
        try:
            minutes = float(read_number(text))
        except NumberRefused as refused:
            asked = "Enter the minutes as a number, for example 12."
            raise forms.ValidationError(str(refused) if refused.code == TWO_READINGS else asked) from None
        if not 0 <= minutes <= MinutesCorrection.MOST_MINUTES:
            raise forms.ValidationError("Enter minutes from 0 to a day (1,440).")
        return minutes

    def clean_client_id(self) -> uuid.UUID:
        return self.cleaned_data["client_id"] or uuid.uuid4()
