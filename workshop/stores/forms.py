"""Forms of the Stores."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django import forms

from specs.models import Part
from workshop.staff.models import Shop
from workshop.stock.amounts import TooManyBottles, in_ml
from workshop.stock.models import LONGEST_LEAD_DAYS, StockItem
from workshop.stock.stock_list import parts_not_kept
from workshop.tickets.models.part_line import PRICE_DECIMALS
from workshop.web.fields import DecimalNumberField, WholeNumberField
from workshop.web.number_words import figures, plain_price

_PRICES = ("price", "cost", "prices_from")
TERMS = ("price", "cost", "shelf", "supplier", "lead_days", "reorder_level")
_NUMBER = {"inputmode": "decimal", "autocomplete": "off"}


def _amount(
    label: str, *, least: str = "0.01", places: int = 2, required: bool = True, **more: Any
) -> DecimalNumberField:
    return DecimalNumberField(
        label=label,
        min_value=Decimal(least),
        max_value=Decimal("999999"),
        decimal_places=places,
        required=required,
        widget=forms.TextInput(attrs=_NUMBER),
        error_messages={
            "invalid": "Enter a number, for example 2.",
            "min_value": "Enter a number above zero." if least != "0" else "Enter a number that is not below zero.",
            "required": "Enter a number.",
        },
        **more,
    )


def once_field() -> forms.UUIDField:
    """The form's own mark, kept while it is put right: sent twice, it is booked once."""
    return forms.UUIDField(required=False, widget=forms.HiddenInput, initial=uuid.uuid4)


class _MovementForm(forms.Form):
    """What moves one part; what is poured is asked in ml, with the label `poured`."""

    poured = ""

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.part = part
        if part.measure == Part.Measure.ML:
            field = next(iter(self.fields.values()))
            field.unit = "ml"  # type: ignore[attr-defined]
            field.label = self.poured

    @property
    def movement(self) -> dict[str, Any]:
        """The cleaned values. The form is valid."""
        return {name: value for name, value in self.cleaned_data.items() if name != "sent_id" or value}


class ReceiveForm(_MovementForm):
    """A delivery. What comes in bottles is asked in bottles and kept in ml."""

    poured = "How much came in"
    quantity = _amount("How many came in")
    batch_number = forms.CharField(
        required=False, max_length=40, label="Batch number", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    use_by = forms.DateField(
        required=False,
        label="Use by",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as 2026-12-24."},
    )
    note = forms.CharField(required=False, max_length=120, label="Delivery note or remark")
    sent_id = once_field()

    def __init__(self, *args: Any, asks_batch: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks_batch:
            del self.fields["batch_number"], self.fields["use_by"]
        if self.part.bottle_ml is not None:
            field = self.fields["quantity"]
            field.unit, field.label = "bottles", "How many bottles came in"  # type: ignore[attr-defined]
            field.help_text = f"Each holds {figures(self.part.bottle_ml)} ml; they are kept in ml."

    def clean_quantity(self) -> Decimal:
        typed: Decimal = self.cleaned_data["quantity"]
        if self.part.bottle_ml is None:
            return typed
        try:
            return in_ml(typed, self.part.bottle_ml)
        except TooManyBottles as refused:
            raise forms.ValidationError(str(refused)) from None


class CountForm(_MovementForm):
    poured = "How much is on the shelf"
    counted = _amount("How many are on the shelf", least="0")
    note = forms.CharField(required=False, max_length=120, label="Remark")


class WriteOffForm(_MovementForm):
    poured = "How much is written off"
    quantity = _amount("How many are written off")
    sent_id = once_field()
    note = forms.CharField(
        max_length=120, label="Why", error_messages={"required": "Say why, such as “torn” or “out of date”."}
    )


class ExpectedForm(forms.Form):
    """The day an order is expected."""

    expected_on = forms.DateField(
        label="Expected on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="The supplier’s date. If blank, the usual lead time is used.",
        error_messages={"invalid": "Enter a day as 2026-12-24."},
    )


class ItemForm(forms.Form):
    """Where an item is, what it costs, and when to order again."""

    price = _amount(
        "Price", least="0", places=PRICE_DECIMALS, help_text="Each piece, or each ml: a litre at 14.90 is 0.0149 a ml."
    )
    cost = _amount(
        "Cost", least="0", places=PRICE_DECIMALS, required=False, help_text="What the supplier asks for each."
    )
    prices_from = forms.DateField(
        label="Price and cost hold from",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="If blank: from now on.",
        error_messages={"invalid": "Enter a day as 2026-12-24."},
    )
    shelf = forms.CharField(max_length=40, required=False, help_text="The place, such as A3.")
    supplier = forms.CharField(max_length=80, required=False, widget=forms.TextInput(attrs={"list": "suppliers"}))
    lead_days = WholeNumberField(
        label="Days to deliver",
        required=False,
        min_value=0,
        max_value=LONGEST_LEAD_DAYS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={
            "invalid": "Enter whole days, for example 3.",
            "min_value": "Days to deliver cannot be less than 0.",
            "max_value": f"Enter no more than {LONGEST_LEAD_DAYS} days.",
        },
    )
    reorder_level = _amount("Reorder point", least="0", help_text="When this few are left.")

    def without_prices(self) -> ItemForm:
        """For somebody who sets none."""
        for name in _PRICES:
            del self.fields[name]
        return self

    @classmethod
    def of(cls, item: StockItem) -> ItemForm:
        initial = {name: getattr(item, name) for name in TERMS}
        prices = {name: plain_price(initial[name]) for name in ("price", "cost")}
        return cls(initial=initial | prices)


class KeepForm(ItemForm):
    """The same for a part that has no place yet."""

    part = forms.ModelChoiceField(Part.objects.none(), label="Part", empty_label="Choose a part")
    field_order = ["part", *TERMS]

    def __init__(self, shop: Shop, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["prices_from"]
        self.fields["part"].queryset = parts_not_kept(shop)  # type: ignore[attr-defined]
