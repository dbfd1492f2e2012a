"""Forms of Office, Privacy."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.customers.models import Customer
from workshop.web.fields import WholeNumberField


class RetentionForm(forms.Form):
    """After how many years without a visit a person is proposed for erasure."""

    years = WholeNumberField(
        label="Propose erasure after",
        min_value=1,
        max_value=30,
        required=False,
        help_text="Without a figure people are kept until they ask.",
    )
    by_itself = forms.BooleanField(
        label="Erase them automatically",
        required=False,
        help_text="Each person stands in the list below for thirty days first. You can keep whoever is to stay.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["years"].unit = "years without a visit"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if typed.get("by_itself") and typed.get("years") is None and "years" not in self.errors:
            self.add_error("years", "Enter after how many years they are erased.")
        return typed


class EraseForm(forms.Form):
    """The name once more, so that no slip of the finger erases anybody."""

    name = forms.CharField(label="Type the name to confirm", widget=forms.TextInput(attrs={"autocomplete": "off"}))
    reason = forms.CharField(label="Reason, for the shop’s record", max_length=160, required=False)
    with_photos = forms.BooleanField(label="Erase the photos too", required=False)

    def __init__(self, *args: Any, customer: Customer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.customer = customer

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if name.casefold() != self.customer.name.casefold():
            raise forms.ValidationError(f"That is not the name. Type “{self.customer.name}”.")
        return name
