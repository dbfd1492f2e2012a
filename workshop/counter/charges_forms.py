"""Forms of charges: labour, the customer's answer, prices and tax."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from specs.models import ServiceKit
from workshop.charges.models import LONGEST_MINUTES, Agreement, TaxRules
from workshop.staff.countries import usual_tax_name
from workshop.web.fields import DecimalNumberField, WholeNumberField

_NUMBER = {"inputmode": "decimal", "autocomplete": "off"}
KINDS: Mapping[str, str] = {"fork": "Fork", "shock": "Shock"}


class LabourMinutesForm(forms.Form):
    """Work by the minute."""

    words = forms.CharField(
        label="What was or will be done", max_length=120, error_messages={"required": "Say what the work is."}
    )
    minutes = WholeNumberField(
        min_value=1,
        max_value=LONGEST_MINUTES,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={
            "required": "Enter the minutes.",
            "invalid": "Enter whole minutes, for example 45.",
            "min_value": "Enter minutes above zero.",
            "max_value": f"Enter no more than {LONGEST_MINUTES:,} minutes.",
        },
    )


class AnswerForm(forms.Form):
    """The customer's answer, as somebody in the shop heard it."""

    how = forms.ChoiceField(
        label="How they answered",
        choices=[choice for choice in Agreement.How.choices if choice[0] != Agreement.How.PAGE],
        error_messages={"required": "Say how the customer answered."},
    )
    said_by = forms.CharField(
        label="Who answered", max_length=120, error_messages={"required": "Say who gave the answer."}
    )
    note = forms.CharField(label="What else was said", max_length=200, required=False)


def _percent(label: str) -> DecimalNumberField:
    field = DecimalNumberField(
        label=label,
        min_value=Decimal(0),
        max_value=Decimal(100),
        max_digits=5,
        decimal_places=2,
        widget=forms.TextInput(attrs=_NUMBER),
        error_messages={
            "required": "Enter a rate, 0 for none.",
            "invalid": "Enter a rate in percent, for example 20.",
            "min_value": "A tax rate is from 0 to 100 %%.",
            "max_value": "A tax rate is from 0 to 100 %%.",
        },
    )
    field.unit = "%"  # type: ignore[attr-defined]
    return field


class PricesForm(forms.Form):
    """Tax, and the price of each service for each kind of unit."""

    name = forms.CharField(label="Name of the tax", max_length=20, help_text="As it is printed, such as VAT.")
    labour_percent = _percent("On labour")
    parts_percent = _percent("On parts")
    prices_include_tax = forms.BooleanField(label="Prices include the tax", required=False)
    rounding = forms.ChoiceField(label="Round the tax", choices=TaxRules.Rounding.choices)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind in KINDS:
            for level, label in ServiceKit.Level.choices:
                field = DecimalNumberField(
                    label=str(label),
                    required=False,
                    min_value=Decimal(0),
                    max_digits=9,
                    decimal_places=2,
                    widget=forms.TextInput(attrs=_NUMBER),
                    error_messages={
                        "invalid": "Enter a price, for example 75.",
                        "min_value": "A price cannot be below zero.",
                    },
                )
                field.unit = currency  # type: ignore[attr-defined]
                self.fields[f"{kind}_{level}"] = field

    @classmethod
    def of(cls, rules: TaxRules, prices: Mapping[tuple[str, str], Decimal], currency: str) -> PricesForm:
        names = ("name", "labour_percent", "parts_percent", "prices_include_tax", "rounding")
        initial: dict[str, Any] = {name: getattr(rules, name) for name in names}
        if rules.version == 0:  # none are saved yet
            initial["name"] = usual_tax_name(rules.shop.country)
        initial |= {f"{kind}_{level}": price for (kind, level), price in prices.items()}
        return cls(initial=initial, currency=currency)

    @property
    def tax_fields(self) -> list[forms.BoundField]:
        return [field for field in self if "_" not in field.name or field.name.split("_")[0] not in KINDS]

    @property
    def price_groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [
            (label, [self[f"{kind}_{level}"] for level in ServiceKit.Level.values]) for kind, label in KINDS.items()
        ]

    @property
    def rules(self) -> dict[str, Any]:
        return {field.name: self.cleaned_data[field.name] for field in self.tax_fields}

    @property
    def prices(self) -> dict[tuple[str, str], Decimal | None]:
        return {
            (kind, level): self.cleaned_data[f"{kind}_{level}"] for kind in KINDS for level in ServiceKit.Level.values
        }


class TaxRateForm(forms.Form):
    """Rates from a day to come."""

    from_on = forms.DateField(
        label="From",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as 2026-12-24.", "required": "Enter the day from which it holds."},
    )
    labour_percent = _percent("On labour")
    parts_percent = _percent("On parts")


class BooksForm(forms.Form):
    """Which days the charges are exported of."""

    first = forms.DateField(label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    last = forms.DateField(label="To (inclusive)", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first: dt.date | None = cleaned.get("first")
        last: dt.date | None = cleaned.get("last")
        if first and last and last < first:
            raise ValidationError({"last": "This day is before the first one."})
        return cleaned
