"""Forms of the Stores."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from specs.models import Part
from workshop.staff.models import Shop
from workshop.stores.models import StockItem
from workshop.stores.stock_list import parts_not_kept

_NUMBER = {"inputmode": "decimal", "autocomplete": "off"}


def _amount(label: str, *, least: str = "0.01", required: bool = True, **more: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        min_value=Decimal(least),
        max_value=Decimal("999999"),
        decimal_places=2,
        required=required,
        widget=forms.TextInput(attrs=_NUMBER),
        error_messages={
            "invalid": "Enter a number, for example 2.",
            "min_value": "Enter a number above zero." if least != "0" else "Enter a number that is not below zero.",
            "required": "Enter a number.",
        },
        **more,
    )


class ReceiveForm(forms.Form):
    quantity = _amount("How many came in")
    note = forms.CharField(required=False, max_length=120, label="Delivery note or remark")


class CountForm(forms.Form):
    counted = _amount("How many are on the shelf", least="0")
    note = forms.CharField(required=False, max_length=120, label="Remark")


class WriteOffForm(forms.Form):
    quantity = _amount("How many are written off")
    note = forms.CharField(
        max_length=120, label="Why", error_messages={"required": "Say why, such as “torn” or “out of date”."}
    )


class ItemForm(forms.ModelForm[StockItem]):
    """Where an item is, what it costs, and when to order again."""

    price = _amount("Price", least="0", help_text="Each piece, or each ml.")
    cost = _amount("Cost", least="0", required=False)
    reorder_level = _amount("Order again at", least="0", help_text="When this few are left.")

    class Meta:
        model = StockItem
        fields = ["price", "cost", "shelf", "supplier", "lead_days", "reorder_level"]
        labels = {"lead_days": "Days to deliver"}


class KeepForm(ItemForm):
    """The same for a part that has no place yet."""

    part = forms.ModelChoiceField(Part.objects.none(), label="Part", empty_label="Choose a part")
    field_order = ["part", "price", "cost", "shelf", "supplier", "lead_days", "reorder_level"]

    def __init__(self, shop: Shop, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].queryset = parts_not_kept(shop)  # type: ignore[attr-defined]
