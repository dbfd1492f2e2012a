"""Forms of a ticket: what was agreed, moves, condition and photos."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import Q

from diagnosis.models import Complaint
from workshop.apart.working import TooBusy
from workshop.tickets.condition import PLACES
from workshop.tickets.models import Ticket
from workshop.tickets.photos import MOST_AT_ONCE, DecodedPhoto, decode_photo
from workshop.web.day_words import day_in_words
from workshop.web.fields import DecimalNumberField, KeptChoiceField
from workshop.web.meant import is_meant
from workshop.web.plausible_days import DayKind, is_asked_about, refuse_day
from workshop.web.uploads import file_name
from workshop.work.moves import moves_from

_SEPARATOR = ":"


class AgreementForm(forms.Form):
    """What the customer said and what was promised."""

    complaint_words = forms.CharField(
        label="In the customer’s words",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Enter what the customer said."},
    )
    complaints = KeptChoiceField(
        label="What we make of it",
        queryset=Complaint.objects.offered(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    promised_on = forms.DateField(
        label="Promised for",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "Choose the day that was promised.", "invalid": "Enter a day as 2026-11-30."},
    )
    price_ceiling = DecimalNumberField(
        label="Price limit",
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="With tax. Call the customer before it costs more.",
    )
    no_limit_said = forms.BooleanField(label="No limit: the customer said so", required=False)
    notes = forms.CharField(
        label="Notes for the bench", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, ticket: Ticket | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.promised_before = ticket.promised_on if ticket is not None else None
        if ticket is not None:  # a complaint retired since stays with the tickets that have it
            kept = [complaint.pk for complaint in ticket.complaints.all()]
            choices = self.fields["complaints"]
            choices.queryset = Complaint.objects.filter(Q(retired_at=None) | Q(pk__in=kept))  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        day: dt.date | None = cleaned.get("promised_on")
        if day is not None:
            self._judge(day)
        if cleaned.get("no_limit_said") and cleaned.get("price_ceiling") is not None:
            self.add_error("no_limit_said", "A limit and no limit cannot both be. Leave out the one that was not said.")
        return cleaned

    def _judge(self, day: dt.date) -> None:
        try:
            refuse_day("promised_on", day, DayKind.PROMISED, kept=self.promised_before)
        except forms.ValidationError as refused:
            self.add_error(None, refused)
            return
        if is_asked_about(day, DayKind.PROMISED, kept=self.promised_before):
            words, box = day_in_words(day), {"value": day.isoformat(), "after": "promised_on"}
            if not is_meant(self, "far_day_meant", label=f"Yes, {words} is meant", **box):
                said = f"{words} is more than three months ahead. Tick that it is meant, or choose another day."
                self.add_error("promised_on", said)

    @classmethod
    def of(cls, ticket: Ticket) -> AgreementForm:
        names = ("complaint_words", "promised_on", "price_ceiling", "no_limit_said", "notes")
        initial: dict[str, Any] = {name: getattr(ticket, name) for name in names}
        complaints = [complaint.pk for complaint in ticket.complaints.all()]
        return cls(initial={**initial, "complaints": complaints}, ticket=ticket)


class MoveForm(forms.Form):
    """One of the lawful moves, with a reason."""

    to = forms.ChoiceField(error_messages={"invalid_choice": "That move is not open to this ticket now."})
    reason = forms.CharField(
        label="Reason or note", required=False, max_length=200, widget=forms.Textarea(attrs={"rows": 1})
    )

    def __init__(self, *args: Any, ticket: Ticket, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].choices = move_choices(ticket)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        state, _, waiting_for = str(cleaned.get("to", "")).partition(_SEPARATOR)
        if state == Ticket.State.CALLED_OFF and not cleaned.get("reason"):
            self.add_error("reason", "Say why it is cancelled.")
        cleaned["to_state"], cleaned["waiting_for"] = state, waiting_for
        return cleaned


# From what is pressed on most tickets to what is pressed on few; common practice, no published source.
_USUAL = [
    *(Ticket.State.READY, Ticket.State.HANDED_BACK, Ticket.State.ON_THE_BENCH, Ticket.State.WAITING),
    *(Ticket.State.BOOKED_IN, Ticket.State.CALLED_OFF),
]


def move_choices(ticket: Ticket) -> list[tuple[str, str]]:
    """The lawful moves of a ticket as button values and words, the usual next one first. Hand-back has its own page."""
    state = Ticket.State
    words = {
        state.BOOKED_IN: "Back in the queue",
        state.ON_THE_BENCH: "Back to the bench" if ticket.state == state.READY else "Onto the bench",
        state.READY: "Ready",
        state.CALLED_OFF: "Cancel ticket",
    }
    choices: list[tuple[str, str]] = []
    for to_state in sorted(moves_from(ticket.state), key=lambda one: _USUAL.index(state(one))):
        if to_state == state.WAITING:
            choices += [(f"{to_state}{_SEPARATOR}{what.value}", f"Wait for {what.label}") for what in Ticket.WaitingFor]
        elif to_state != state.HANDED_BACK:
            choices.append((to_state, words[state(to_state)]))
    return choices


class ConditionForm(forms.Form):
    """A mark and where it is."""

    place = forms.CharField(max_length=80, widget=forms.TextInput(attrs={"list": "places", "autocomplete": "off"}))
    text = forms.CharField(
        label="Damage or wear", max_length=300, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    places = PLACES


class SeveralFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Several photos, decoded while they are validated; each refused one is named."""

    widget = SeveralFiles

    def clean(self, data: Any, initial: Any = None) -> list[DecodedPhoto]:
        files: Sequence[Any] = [file for file in data or [] if file]
        if self.required and not files:
            raise forms.ValidationError("Choose at least one photo.", code="required")
        if len(files) > MOST_AT_ONCE:
            raise forms.ValidationError(f"Choose {MOST_AT_ONCE} photos at most at a time.", code="too_many")
        decoded: list[DecodedPhoto] = []
        refused: list[forms.ValidationError] = []
        for file in files:
            try:
                decoded.append(decode_photo(file, name=file_name(file)))
            except forms.ValidationError as error:
                refused.append(error)
            except TooBusy as busy:
                raise forms.ValidationError(str(busy), code="busy") from busy
        if refused:
            raise forms.ValidationError(refused)
        return decoded


def photos_field(*, required: bool) -> PhotosField:
    accepted = "image/jpeg,image/png,image/webp"
    return PhotosField(
        label="Photos",
        required=required,
        widget=SeveralFiles(attrs={"accept": accepted}),
        help_text=f"JPEG, PNG or WebP, up to {MOST_AT_ONCE} at a time.",
    )


class PhotosForm(forms.Form):
    photos = photos_field(required=True)
    caption = forms.CharField(max_length=120, required=False)
