"""Forms of the ways that an estimate offers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from specs.models import Part
from workshop.charges.models import LONGEST_MINUTES
from workshop.charges.variant_models import Variant
from workshop.counter.till_forms import money_field
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.stock.price_updates import let_prices_come_due
from workshop.tickets.models.part_line import PRICE_DECIMALS
from workshop.web.fields import DecimalNumberField, WholeNumberField


class VariantForm(forms.Form):
    """Another way of doing it."""

    name = forms.CharField(
        label="Another way of doing it",
        max_length=60,
        help_text="Such as “Repair” or “Replace”.",
        error_messages={"required": "Give it a name, such as “Repair” or “Replace”."},
    )


class OfferedWorkForm(forms.Form):
    """Work by the minute, or at a price."""

    words = forms.CharField(label="Work", max_length=120, error_messages={"required": "Say what the work is."})
    minutes = WholeNumberField(
        required=False,
        min_value=1,
        max_value=LONGEST_MINUTES,
        error_messages={
            "invalid": "Enter whole minutes, for example 45.",
            "min_value": "Enter minutes above zero.",
            "max_value": f"Enter no more than {LONGEST_MINUTES:,} minutes.",
        },
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["minutes"].unit = "min"  # type: ignore[attr-defined]
        self.fields["price"] = money_field(shop, "Or a price", above_zero=False, required=False)


class OfferedPartForm(forms.Form):
    """A part by its number, at the stores' price unless another is typed."""

    number = forms.CharField(
        label="Part number", max_length=30, error_messages={"required": "Enter the number of the part."}
    )
    quantity = DecimalNumberField(
        label="How many, or ml",
        min_value=Decimal("0.01"),
        max_value=Decimal(99_999),
        decimal_places=2,
        initial=1,
        error_messages={
            "required": "Enter a quantity above zero.",
            "invalid": "Enter a number, for example 2.",
            "min_value": "Enter a quantity above zero.",
        },
    )
    price = DecimalNumberField(
        label="Price each",
        required=False,
        min_value=Decimal(0),
        max_digits=11,
        decimal_places=PRICE_DECIMALS,
        help_text="If blank: what the stores ask.",
        error_messages={"invalid": "Enter a price, for example 12.50.", "min_value": "A price cannot be below zero."},
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop = shop
        self.fields["price"].unit = shop.currency  # type: ignore[attr-defined]

    def clean_number(self) -> Part:
        number: str = self.cleaned_data["number"].strip()
        part = Part.objects.filter(number__iexact=number).first()
        if part is None:
            raise ValidationError(f"There is no part “{number}”. Look in the stores for its number.")
        return part

    @property
    def offered(self) -> dict[str, Any]:
        """Part, quantity and price. The form is valid."""
        asked = self.cleaned_data
        price, part = asked["price"], asked["number"]
        if price is None:
            let_prices_come_due(self.shop.pk)
            price = StockItem.objects.filter(shop=self.shop, part=part).values_list("price", flat=True).first()
        return {"part": part, "quantity": asked["quantity"], "price": price}


@dataclass(frozen=True)
class VariantForms:
    """A variant with the forms that add to it."""

    variant: Variant
    work_form: OfferedWorkForm
    part_form: OfferedPartForm


def ways_of(
    variants: Iterable[Variant], shop: Shop, refused: Mapping[tuple[str, int], forms.Form] | None = None
) -> list[VariantForms]:
    """Each variant with its forms; `refused` are those that were sent and are shown again, by kind and variant."""
    there: Mapping[tuple[str, int], Any] = refused or {}
    return [
        VariantForms(
            one,
            there.get(("work", one.pk)) or work_form(one.pk, shop),
            there.get(("part", one.pk)) or part_form(one.pk, shop),
        )
        for one in variants
    ]


def work_form(pk: int, shop: Shop, data: QueryDict | None = None) -> OfferedWorkForm:
    return OfferedWorkForm(data, shop=shop, auto_id=f"way-{pk}-work-%s")


def part_form(pk: int, shop: Shop, data: QueryDict | None = None) -> OfferedPartForm:
    return OfferedPartForm(data, shop=shop, auto_id=f"way-{pk}-part-%s")
