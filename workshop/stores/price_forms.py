"""Forms of new prices."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop
from workshop.stock.price_models import NewPrice, PriceUpdate
from workshop.stock.price_updates import DAY_IS_OVER, PricesWanted, refuse_percent
from workshop.stock.stock_list import suppliers_of
from workshop.web.fields import DecimalNumberField
from workshop.web.plausible_days import DayKind, refuse_day

STEPS = (("0.01", "to 0.01"), ("0.05", "to 0.05"), ("0.10", "to 0.10"), ("0.50", "to 0.50"), ("1.00", "to whole ones"))


class ChangeForm(forms.Form):
    """Which prices change, by how much, how they are rounded, and from when."""

    what = forms.ChoiceField(label="Change", choices=[("price", "Prices"), ("cost", "Costs")])
    role = forms.ChoiceField(label="Of", required=False, choices=[("", "All parts"), *Part.Role.choices])
    supplier = forms.ChoiceField(label="From", required=False)
    percent = DecimalNumberField(
        label="By",
        decimal_places=2,
        help_text="3 is dearer, -3 is cheaper.",
        error_messages={
            "required": "Enter by how much prices change: 3 for dearer, -3 for cheaper.",
            "invalid": "Enter a number of per cent, for example 3.5.",
        },
    )
    step = forms.ChoiceField(
        label="Round each", choices=STEPS, help_text="What is sold by the ml keeps its four decimals."
    )
    from_on = forms.DateField(
        label="From which day",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as 2026-12-24.", "required": "Enter a day; today is from now on."},
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["percent"].unit = "%"  # type: ignore[attr-defined]
        choices = [("", "Any supplier"), *((one, one) for one in suppliers_of(shop))]
        self.fields["supplier"].choices = choices  # type: ignore[attr-defined]

    @classmethod
    def fresh(cls, shop: Shop) -> ChangeForm:
        """With the rounding that the shop chose last."""
        last = PriceUpdate.objects.filter(shop=shop, rounding__isnull=False).values_list("rounding", flat=True).first()
        return cls(shop=shop, initial={"from_on": timezone.localdate(), "step": str(last or "0.05")})

    def clean_percent(self) -> Decimal:
        percent: Decimal = self.cleaned_data["percent"]
        try:
            refuse_percent(percent)
        except ValidationError as refused:
            raise ValidationError(refused.messages) from None
        return percent

    def clean_from_on(self) -> dt.date:
        day: dt.date = self.cleaned_data["from_on"]
        if day < timezone.localdate():
            raise ValidationError(DAY_IS_OVER)
        try:
            refuse_day("from_on", day, DayKind.EXPECTED)
        except ValidationError as refused:
            raise ValidationError(refused.messages) from None
        return day

    @property
    def wanted(self) -> PricesWanted:
        """What the form asks for. It is valid."""
        asked = self.cleaned_data
        return PricesWanted(
            NewPrice.What(asked["what"]), asked["percent"], Decimal(asked["step"]), asked["role"], asked["supplier"]
        )


class DayForm(forms.Form):
    """A day that is not to come."""

    day = forms.DateField(
        label="At the end of",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as 2026-12-24."},
    )

    def clean_day(self) -> dt.date:
        day: dt.date = self.cleaned_data["day"] or timezone.localdate()
        try:
            refuse_day("day", day, DayKind.HAPPENED)
        except ValidationError as refused:
            raise ValidationError(refused.messages) from None
        return day
