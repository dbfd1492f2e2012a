"""Forms of a visit: what came with it and how, and which tickets are of one."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.counter.put_right_forms import reason_field
from workshop.tickets.models import Ticket, Visit
from workshop.tickets.visits import LOOSE_PARTS, CameWith
from workshop.web.day_words import day_in_words
from workshop.web.fields import DecimalNumberField
from workshop.web.meant import is_meant
from workshop.web.plausible_days import DayKind, is_asked_about


def _text(label: str, longest: int, help_text: str = "") -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, max_length=longest, required=False, widget=widget, help_text=help_text)


def _way(label: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=Visit.Way.choices, required=False, initial=Visit.Way.COUNTER, widget=forms.RadioSelect
    )


class CameWithForm(forms.Form):
    """Loose parts, the place on the shelf, and how it comes and goes."""

    loose = forms.MultipleChoiceField(
        label="Loose parts that came with it",
        choices=[(key, words.capitalize()) for key, words in LOOSE_PARTS.items()],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    loose_words = _text("Other loose parts", 200)
    shelf = _text("Place on the shelf", 40)
    came_by = _way("It came")
    came_carrier = _text("Carrier it came with", 60)
    came_number = _text("Number of that parcel", 60)
    goes_by = _way("It goes")
    goes_carrier = _text("Carrier it goes with", 60)
    goes_number = _text("Number of the parcel back", 60)
    price_ceiling = DecimalNumberField(
        label="Price limit for everything in the visit",
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="With tax, beside the limit of each. Call the customer before it costs more in total.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for way in ("came", "goes"):
            cleaned[f"{way}_by"] = cleaned.get(f"{way}_by") or Visit.Way.COUNTER
            for what in ("carrier", "number"):
                if cleaned.get(f"{way}_{what}") and cleaned[f"{way}_by"] != Visit.Way.PARCEL:
                    self.add_error(f"{way}_{what}", "Only a parcel has one. Choose “By parcel”, or leave it empty.")
        return cleaned

    @property
    def came_with(self) -> CameWith:
        """What was noted. Only of a valid form."""
        return CameWith(**self.cleaned_data)

    @classmethod
    def of(cls, visit: Visit | None) -> CameWithForm:
        return cls(initial=vars(CameWith.of(visit)))


class JoinForm(forms.Form):
    """With which other open ticket of the customer it came."""

    prefix = "join"
    beside = forms.ModelChoiceField(
        label="Came together with",
        queryset=Ticket.objects.none(),
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={"required": "Choose the ticket it came with.", "invalid_choice": "Choose one of those shown."},
    )
    reason = reason_field("Why they belong together")

    def __init__(self, *args: Any, ticket: Ticket, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Ticket.objects.open().filter(customer=ticket.customer_id).exclude(pk=ticket.pk)
        if ticket.visit_id is not None:
            others = others.exclude(visit=ticket.visit_id)
        choice: Any = self.fields["beside"]
        choice.queryset = others.select_related("unit__model", "customer", "visit").order_by("number")
        choice.label_from_instance = lambda one: f"Ticket {one.number}: {one.unit.title}"


class OneDayForm(forms.Form):
    """The one day for which all of a visit is promised; a far one is asked back, as on a ticket alone."""

    prefix = "one"
    day = forms.DateField(
        label="Promised for",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "Choose the day that was promised.", "invalid": "Enter a day as 2026-11-30."},
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        day = cleaned.get("day")
        if day is not None and is_asked_about(day, DayKind.PROMISED):
            words, box = day_in_words(day), {"value": day.isoformat(), "after": "day"}
            if not is_meant(self, "far_day_meant", label=f"Yes, {words} is meant", **box):
                said = f"{words} is more than three months ahead. Tick that it is meant, or choose another day."
                self.add_error("day", said)
        return cleaned


class SplitForm(forms.Form):
    """Why a ticket is taken out of its visit."""

    prefix = "split"
    reason = reason_field("Why it did not come with them")
