"""The form of how the shop tells that something is ready, and of when it is open."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workshop.office.reminder_forms import checked_line
from workshop.promise.models import WEEKDAYS
from workshop.promise.opening import HoursRefused, Opening, read_spans, typed_spans
from workshop.reminders.models import ReadyText
from workshop.reminders.ready_text import FIELDS
from workshop.reminders.text import TextRefused, check_text
from workshop.web.fields import WholeNumberField

_DAYS = "Enter a number of days from 1 to 60."


class SpansField(forms.CharField):
    """The hours of one weekday as they are typed; gives spans."""

    def clean(self, value: Any) -> Any:
        try:
            return read_spans(super().clean(value))
        except HoursRefused as refused:
            raise ValidationError(str(refused)) from refused

    def prepare_value(self, value: Any) -> Any:
        return value if isinstance(value, str) or value is None else typed_spans(value)


class ReadyTextForm(forms.Form):
    """The wording by email and by text message, the days, and the hours of each weekday."""

    subject = forms.CharField(label="Subject of the email", max_length=150)
    body = forms.CharField(label="Email", widget=forms.Textarea(attrs={"rows": 8}), max_length=5000)
    text = forms.CharField(label="Text message", widget=forms.Textarea(attrs={"rows": 3}), max_length=600)
    unreached_days = WholeNumberField(
        label="Not reached after",
        min_value=1,
        max_value=60,
        help_text="Days. Who was not reached for so long stands in a list of the counter’s first page.",
        error_messages={"min_value": _DAYS, "max_value": _DAYS, "invalid": _DAYS},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for weekday, name in WEEKDAYS:
            self.fields[f"day_{weekday}"] = SpansField(
                label=name, required=False, max_length=60, widget=forms.TextInput(attrs={"autocomplete": "off"})
            )

    @classmethod
    def of(cls, text: ReadyText, opening: Opening) -> ReadyTextForm:
        initial: dict[str, Any] = {name: getattr(text, name) for name in ("subject", "body", "text", "unreached_days")}
        initial |= {f"day_{weekday}": opening.week.get(weekday, ()) for weekday, _ in WEEKDAYS}
        return cls(initial=initial)

    @property
    def week(self) -> dict[int, Any]:
        """The spans of each weekday, of a valid form."""
        return {weekday: self.cleaned_data[f"day_{weekday}"] for weekday, _ in WEEKDAYS}

    @property
    def wording(self) -> dict[str, Any]:
        """What goes into the shop's text, of a valid form."""
        return {name: self.cleaned_data[name] for name in ("subject", "body", "text", "unreached_days")}

    @property
    def days(self) -> list[forms.BoundField]:
        return [self[f"day_{weekday}"] for weekday, _ in WEEKDAYS]

    def clean_subject(self) -> str:
        return _checked(checked_line(self.cleaned_data["subject"]))

    def clean_body(self) -> str:
        return _checked(self.cleaned_data["body"])

    def clean_text(self) -> str:
        return _checked(self.cleaned_data["text"])


def _checked(text: str) -> str:
    try:
        check_text(text, fields=FIELDS)
    except TextRefused as refused:
        raise ValidationError(str(refused)) from refused
    return text
