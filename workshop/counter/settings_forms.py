"""The form for the settings of a unit on arrival and at hand-back."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, Self

from django import forms

from specs.typed_measures import Depth
from workshop.staff.models import Shop
from workshop.tickets.models import SettingsRecord
from workshop.tickets.settings_record import Settings, settings_of
from workshop.web.fields import DepthField, WholeNumberField, quantity_field
from workshop.work.unsafe import LONGEST_NAME

_PSI = 6894.757293168361
_MOST_CLICKS = 60


def _clicks_field(label: str) -> WholeNumberField:
    return WholeNumberField(
        label=label,
        required=False,
        min_value=0,
        max_value=_MOST_CLICKS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": "Count whole clicks from fully closed, for example 7."},
    )


class SettingsForm(forms.Form):
    """Clicks are counted from fully closed. What was not read stays empty.

    `travel_m` of the unit, where it is on record, is what a sag typed in per cent is a share of.
    """

    rebound_clicks = _clicks_field("Rebound")
    compression_clicks = _clicks_field("Compression")
    high_compression_clicks = _clicks_field("High-speed compression")
    spacers = WholeNumberField(
        label="Volume spacers",
        required=False,
        min_value=0,
        max_value=20,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    remarks = forms.CharField(max_length=200, required=False)

    field_order = [
        "pressure_pa", "sag_m", "rest_travel_m", "rebound_clicks", "compression_clicks", "high_compression_clicks",
        "spacers", "remarks",
    ]  # fmt: skip

    def __init__(self, *args: Any, shop: Shop, travel_m: float | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.travel_m = travel_m
        length_unit = shop.unit_for("length")
        self.fields["pressure_pa"] = quantity_field(
            shop, "pressure", label="Pressure", required=False, low_si=0, high_si=400 * _PSI,
            why_range="Forks and shocks work below 400 psi.",
        )  # fmt: skip
        self.fields["sag_m"] = DepthField(
            unit=length_unit,
            length_unit=length_unit,
            deepest_m=0.200,
            may_be_zero=True,
            label="Sag",
            required=False,
            help_text="Or a share, such as 20 %.",
        )
        self.fields["rest_travel_m"] = quantity_field(
            shop, "length", label="Rest depth", required=False, low_si=0, high_si=0.300
        )
        self.order_fields(self.field_order)

    def clean_sag_m(self) -> float | None:
        """A share of the travel as the depth that is kept."""
        depth: Depth | None = self.cleaned_data["sag_m"]
        if depth is None:
            return None
        if depth.share is not None and self.travel_m is None:
            raise forms.ValidationError(
                "A share cannot be worked out: this unit’s travel is not on record. Enter a length.", code="travel"
            )
        return depth.of(self.travel_m or 0.0)

    @property
    def settings(self) -> Settings:
        """The cleaned values. The form is valid."""
        return Settings(**{field.name: self.cleaned_data[field.name] for field in fields(Settings)})

    @classmethod
    def of(cls, record: SettingsRecord | None, shop: Shop, travel_m: float | None = None) -> SettingsForm:
        return cls.filled(settings_of(record), shop, travel_m)

    @classmethod
    def filled(cls, values: Settings, shop: Shop, travel_m: float | None = None) -> Self:
        return cls(shop=shop, travel_m=travel_m, initial={name: getattr(values, name) for name in cls.field_order})


class InPiecesForm(SettingsForm):
    """Handing back what is in pieces: the settings, and why it goes like that."""

    reason = forms.CharField(
        label="Why it goes back in pieces, and what the customer was told",
        max_length=200,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why it goes back in pieces, and that the customer was told not to ride it."},
    )

    field_order = [*SettingsForm.field_order, "reason"]

    @classmethod
    def filled(cls, values: Settings, shop: Shop, travel_m: float | None = None) -> Self:
        return cls(
            shop=shop, travel_m=travel_m, initial={name: getattr(values, name) for name in SettingsForm.field_order}
        )


class UnsafeForm(SettingsForm):
    """Handing back what must not be ridden: the settings, and the name of who takes it so."""

    signed_by = forms.CharField(
        label="Name of who takes it, and knows that it must not be ridden",
        max_length=LONGEST_NAME,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Type the name of who takes it. They sign the report as well."},
    )

    field_order = [*SettingsForm.field_order, "signed_by"]

    @classmethod
    def filled(cls, values: Settings, shop: Shop, travel_m: float | None = None) -> Self:
        return cls(
            shop=shop, travel_m=travel_m, initial={name: getattr(values, name) for name in SettingsForm.field_order}
        )


class UnsafeInPiecesForm(UnsafeForm, InPiecesForm):
    """Handing back what is in pieces and must not be ridden either."""

    field_order = [*SettingsForm.field_order, "reason", "signed_by"]


def hand_back_form(*, in_pieces: bool, unsafe: bool) -> type[SettingsForm]:
    """The form that asks for all that a hand-back needs."""
    if unsafe:
        return UnsafeInPiecesForm if in_pieces else UnsafeForm
    return InPiecesForm if in_pieces else SettingsForm
