"""Forms for customers and their bikes."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse_lazy

from specs.physics.errors import ImpossibleValue
from specs.typed_measures import read_leverage
from specs.units import UnitError
from workshop.customers.leverage import refusal_in_words
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop
from workshop.web.fields import quantity_field
from workshop.web.folding import digits
from workshop.web.languages import languages_to_choose
from workshop.web.meant import is_meant

_SAID_WHILE_TYPING = {
    "autocomplete": "off", "hx-get": reverse_lazy("counter:check_email"), "hx-target": "#email-said",
    "hx-trigger": "input changed delay:400ms", "hx-swap": "innerHTML", "hx-sync": "this:replace",
}  # fmt: skip
SHARES_PHONE = "shares_phone"
_AGREED = "Agrees to be reminded when service is due"


class CustomerForm(forms.Form):
    """Everything the shop keeps about a customer."""

    name = forms.CharField(
        label="Name or company", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    contact_person = forms.CharField(
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Of a company, whom to ask for.",
    )
    phone = forms.CharField(max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"}))
    other_phones = forms.CharField(
        label="Further phones",
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="One a line, with what it is: work 0555 010 447.",
    )
    email = forms.EmailField(max_length=254, required=False, widget=forms.EmailInput(attrs=_SAID_WHILE_TYPING))
    language = forms.CharField(
        max_length=40, required=False, help_text="What they are best spoken to in.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    preferred_contact = forms.ChoiceField(
        label="How to reach them", choices=Customer.Contact.choices, initial=Customer.Contact.PHONE
    )
    address = forms.CharField(required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2}))
    notes = forms.CharField(
        label="Notes for staff", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The customer’s pages and papers never show them.",
    )  # fmt: skip
    agreed_to_reminders = forms.BooleanField(label=_AGREED, required=False)

    field_order = [
        "name", "contact_person", "phone", "other_phones", "email", "preferred_contact", "language",
        "papers_language", "rider_mass_kg", "address", "notes", "agreed_to_reminders",
    ]  # fmt: skip

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["rider_mass_kg"] = quantity_field(
            shop,
            "mass",
            label="Rider, ready to ride",
            required=False,
            low_si=10,
            high_si=250,
            help_text="With pack and kit. Used for sag and pressure.",
        )
        if languages := languages_to_choose():
            self.fields["papers_language"] = forms.ChoiceField(
                label="Papers, mails and their page in", choices=languages, required=False
            )
        self.order_fields(self.field_order)

    @classmethod
    def of(cls, customer: Customer, shop: Shop) -> CustomerForm:
        return cls(shop=shop, initial={name: getattr(customer, name) for name in cls.field_order})


class LeverageField(forms.CharField):
    """How far the wheel goes for what the shock does, as a ratio or as two travels."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=40, **kwargs)
        self.widget.attrs.update({"autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        try:
            return read_leverage(text)
        except UnitError as error:
            raise ValidationError(str(error), code="unit") from None
        except ImpossibleValue as impossible:
            raise ValidationError(refusal_in_words(impossible), code="range") from None

    def prepare_value(self, value: Any) -> Any:
        return f"{value:.4g}" if isinstance(value, float) else value


class BikeForm(forms.Form):
    description = forms.CharField(
        max_length=120, help_text="Maker, model and colour, as you would call it across the shop."
    )
    frame_number = forms.CharField(max_length=60, required=False)
    leverage = LeverageField(
        label="Leverage of the rear shock",
        required=False,
        help_text="Wheel travel / shock stroke, such as 150/60, or the ratio, 2.5. If blank: not known.",
    )
    leverage_source = forms.ChoiceField(
        label="Where the leverage is from", choices=[("", "not noted"), *Bike.LeverageSource.choices], required=False
    )
    notes = forms.CharField(required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))

    @classmethod
    def of(cls, bike: Bike) -> BikeForm:
        return cls(initial={name: getattr(bike, name) for name in cls.base_fields})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("leverage") is not None and not cleaned.get("leverage_source"):
            self.add_error("leverage_source", "Say where the leverage is from.")
        if cleaned.get("leverage_source") and cleaned.get("leverage") is None and "leverage" not in self.errors:
            self.add_error("leverage", "Enter the leverage, or leave out where it is from.")
        return cleaned


class QuickCustomerForm(forms.Form):
    """A new customer while booking in: only what is needed today. Name and phone also look for known ones."""

    name = forms.CharField(
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Enter the customer’s name, or choose a known customer."},
    )
    phone = forms.CharField(
        max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"})
    )
    email = forms.EmailField(max_length=254, required=False, widget=forms.EmailInput(attrs=_SAID_WHILE_TYPING))
    agreed_to_reminders = forms.BooleanField(label=_AGREED, required=False)


def show_shared_phone(form: forms.Form, error: ValidationError) -> None:
    """Let a person say that somebody else has the same number, where that is what was refused."""
    by_field = error.error_dict if hasattr(error, "error_dict") else {}
    if form.is_bound and any(one.code == "known_phone" for one in by_field.get("phone", [])):
        shares_phone(form)


def shares_phone(form: forms.Form) -> bool:
    """Whether it is said of the number typed; asks for it."""
    meant = digits(form.cleaned_data.get("phone", ""))
    return is_meant(form, SHARES_PHONE, value=meant, label="Somebody else with the same number", after="phone")


class QuickBikeForm(forms.Form):
    description = forms.CharField(
        label="Bike",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "Maker, model, colour"}),
        error_messages={"required": "Say what bike it is, or choose “No bike”."},
    )
    frame_number = forms.CharField(max_length=60, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"}))
