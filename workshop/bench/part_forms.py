"""Forms for the parts on a ticket."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from specs.models import Part, ServiceKit
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS
from workshop.web.fields import DecimalNumberField


def quantity_form_field() -> DecimalNumberField:
    return DecimalNumberField(
        min_value=Decimal("0.01"),
        max_value=Decimal("99999"),
        decimal_places=2,
        max_digits=8,
        label="Quantity",
        localize=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={
            "min_value": "Enter a quantity above zero.",
            "invalid": "Enter a number, for example 2.",
            "required": "Enter a quantity.",
        },
    )


class ByHandForm(forms.Form):
    """A part of the list, or words."""

    part = forms.ModelChoiceField(Part.objects.all(), required=False, widget=forms.HiddenInput)
    words = forms.CharField(required=False, max_length=120, label="What is needed")
    quantity = quantity_form_field()
    note = forms.CharField(required=False, max_length=120, label="Note")

    def take_errors(self, refused: ValidationError) -> None:
        """Put each reason beside its field."""
        errors: dict[str, Any] = getattr(refused, "message_dict", {NON_FIELD_ERRORS: refused.messages})
        for name, reasons in errors.items():
            for reason in reasons:
                self.add_error(name if name in self.fields else None, reason)


class KitForm(forms.Form):
    level = forms.ChoiceField(choices=ServiceKit.Level.choices)


class PriceForm(forms.Form):
    """What each costs the customer; `seen` is the price that was on the screen, empty for none."""

    price = DecimalNumberField(
        min_value=Decimal(0),
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        error_messages={
            "min_value": "A price cannot be below zero.",
            "invalid": "Enter a price, for example 4.50.",
            "required": "Enter the price, or mark it free.",
        },
    )
    seen = forms.DecimalField(required=False)


class QuantityForm(forms.Form):
    """Another quantity of a line; `seen` is the one that was on the screen."""

    quantity = quantity_form_field()
    seen = forms.DecimalField(error_messages={"required": "Look at the line again, then change it."})


def first_error(form: forms.Form) -> str:
    return str(next(iter(form.errors.values()))[0])
