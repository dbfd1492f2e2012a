"""Forms of a unit's hours, rules and services, as staff fill them in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from workshop.intervals.models import Level
from workshop.portal.forms import TracksForm, WeeklyHoursForm
from workshop.web.fields import FloatNumberField, WholeNumberField

__all__ = ["CounterForm", "RuleForm", "ServiceElsewhereForm", "TicketServicesForm", "TracksForm", "WeeklyForm"]

_DAY_ERRORS = {"required": "Choose a day.", "invalid": "Enter a day, such as 2026-06-03."}


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        initial=timezone.localdate,
        error_messages=_DAY_ERRORS,
    )


class WeeklyForm(WeeklyHoursForm):
    """As a customer's, with the day from which it holds and who says so."""

    since = _day("Holds since")
    said_by = forms.ChoiceField(
        label="Who says so", choices=[("customer", "the customer"), ("shop", "our own estimate")], initial="customer"
    )


class CounterForm(forms.Form):
    """A reading of the rider's own hour counter."""

    counter_hours = FloatNumberField(
        label="Hours on the rider’s counter",
        min_value=0,
        max_value=100_000,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Between two readings their difference counts.",
        error_messages={"invalid": "Enter a number of hours.", "required": "Enter what the counter shows."},
    )
    on = _day("Read on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["counter_hours"].unit = "h"  # type: ignore[attr-defined]


class RuleForm(forms.Form):
    """A unit's own interval; empty figures go back to the model's."""

    hours = FloatNumberField(label="Ride hours", min_value=1, max_value=2000, required=False)
    months = WholeNumberField(label="Months", min_value=1, max_value=120, required=False)
    source = forms.CharField(
        label="Where it is from",
        max_length=160,
        help_text="For example: the maker’s manual and page, or the shop’s own rule and why.",
        error_messages={"required": "Say where the figure is from."},
    )
    seen_rule = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["hours"].unit = "h"  # type: ignore[attr-defined]
        self.fields["months"].unit = "months"  # type: ignore[attr-defined]


class ServiceElsewhereForm(forms.Form):
    """A service done elsewhere, or before the shop kept records."""

    level = forms.ChoiceField(label="Service", choices=Level.choices)
    on = _day("Done on")
    told_by = forms.CharField(
        label="How we know", max_length=160, error_messages={"required": "Say how we know, such as “the customer”."}
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "elsewhere_%s", **kwargs})  # the page has another form with a day


class TicketServicesForm(forms.Form):
    """Which services a handed-back ticket was."""

    levels = forms.MultipleChoiceField(
        label="This ticket was a", choices=Level.choices, required=False, widget=forms.CheckboxSelectMultiple
    )
