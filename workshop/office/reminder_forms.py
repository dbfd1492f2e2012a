"""Forms of the reminders."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workshop.intervals.models import IntervalPolicy
from workshop.reminders.models import Message
from workshop.reminders.text import TextRefused, check_text
from workshop.web.fields import WholeNumberField
from workshop.web.plain_text import one_line

_ONE_LINE = "A subject is one line."


class ReminderForm(forms.Form):
    """What goes out, as the owner leaves it."""

    channel = forms.ChoiceField(label="Send as", widget=forms.RadioSelect)
    subject = forms.CharField(label="Subject", max_length=200)
    body = forms.CharField(label="Text", widget=forms.Textarea(attrs={"rows": 14}), max_length=5000, strip=True)

    def __init__(self, *args: Any, channels: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(channel, Message.Channel(channel).label) for channel in channels]
        self.fields["channel"] = forms.ChoiceField(
            label="Send as",
            choices=choices,
            widget=forms.RadioSelect,
            initial=channels[0] if channels else None,
            error_messages={"required": "Choose email or letter."},
        )

    def clean_subject(self) -> str:
        return checked_line(self.cleaned_data["subject"])


class ReminderTextForm(forms.Form):
    """The shop's wording, with its fields."""

    subject = forms.CharField(label="Subject", max_length=150)
    body = forms.CharField(label="Text", widget=forms.Textarea(attrs={"rows": 16}), max_length=5000)

    def clean_subject(self) -> str:
        return _checked_text(checked_line(self.cleaned_data["subject"]))

    def clean_body(self) -> str:
        return _checked_text(self.cleaned_data["body"])


class SnoozeForm(forms.Form):
    """Until when a due service is put off."""

    until = forms.DateField(
        label="Put off until",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"required": "Choose a day.", "invalid": "Enter a day, such as 2027-03-01."},
    )


class FiguresForm(forms.ModelForm[IntervalPolicy]):
    """The owner's figures for every forecast; factors and the spread are typed in per cent."""

    wet_percent = WholeNumberField(label="Often wet or muddy", min_value=20, max_value=100)
    dusty_percent = WholeNumberField(label="Often dusty", min_value=20, max_value=100)
    spread_percent = WholeNumberField(label="A weekly figure may be off by", min_value=0, max_value=80)

    class Meta:
        model = IntervalPolicy
        fields = ["coming_up_days"]
        field_classes = {"coming_up_days": WholeNumberField}
        labels = {"coming_up_days": "Show a service before it is due"}
        error_messages = {"coming_up_days": {"invalid": "Enter a number of days from 1 to 365."}}

    _PERCENT = {"wet_percent": "wet_factor", "dusty_percent": "dusty_factor", "spread_percent": "said_hours_spread"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, column in self._PERCENT.items():
            self.initial.setdefault(name, round(getattr(self.instance, column) * 100))
            self.fields[name].unit = "%"  # type: ignore[attr-defined]
        self.fields["coming_up_days"].unit = "days"  # type: ignore[attr-defined]

    def factors(self) -> dict[str, float]:
        """The cleaned percentages as the fractions that are kept."""
        return {column: self.cleaned_data[name] / 100 for name, column in self._PERCENT.items()}


def checked_line(text: str) -> str:
    if one_line(text) != text.strip():
        raise ValidationError(_ONE_LINE)
    return text.strip()


def _checked_text(text: str) -> str:
    try:
        check_text(text)
    except TextRefused as refused:
        raise ValidationError(str(refused)) from refused
    return text
