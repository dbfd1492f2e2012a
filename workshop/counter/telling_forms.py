"""Forms of notes, calls and messages."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.tickets.contacts import LONGEST_WORDS
from workshop.tickets.models import Contact

NOTE = str(Contact.Kind.NOTE)


class ContactForm(forms.Form):
    """One press: how a call ended, or that the words are a note."""

    what = forms.ChoiceField(
        choices=[*Contact.Outcome.choices, (NOTE, "note")],
        error_messages={
            "required": "Say how the call ended, or that it is a note.",
            "invalid_choice": "Press a button.",
        },
    )
    words = forms.CharField(
        label="Words", required=False, max_length=LONGEST_WORDS, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    rang_at = forms.TimeField(
        label="Rang at",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="If blank: now.",
        error_messages={"invalid": "Enter a time as 14:10."},
    )

    def __init__(self, *args: Any, number: int, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "auto_id": f"id_%s_{number}"})


class SentTextForm(forms.Form):
    """The text message as it was sent."""

    words = forms.CharField(
        label="Text message",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 5}),
        error_messages={"required": "Enter what was sent."},
    )
