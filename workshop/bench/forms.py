"""Short forms of the bench page of a ticket. Each carries the version of the ticket that was seen."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.tickets.models import Ticket


class SeenForm(forms.Form):
    version = forms.IntegerField(min_value=1, widget=forms.HiddenInput)


class WaitForm(SeenForm):
    """What the ticket waits for; each choice is a button of its own."""

    waiting_for = forms.ChoiceField(choices=Ticket.WaitingFor.choices, widget=forms.HiddenInput)
    reason = forms.CharField(required=False, max_length=300, label="What for, in a few words")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "wait-%s", **kwargs})  # beside it stands another form with a reason


class FinishForm(SeenForm):
    reason = forms.CharField(
        required=False,
        max_length=300,
        label="Why it goes without that proof",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
