"""Forms of the Office."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.conf import settings

from workshop.staff.models import Shop, User
from workshop.web.fields import DecimalNumberField, FloatNumberField, quantity_field
from workshop.web.public_address import is_set_by_server, public_address


class ShopForm(forms.ModelForm[Shop]):
    """The shop's name on paper, its units and its clock."""

    class Meta:
        model = Shop
        fields = [
            "name", "address", "phone", "email", "public_address", "paper", "currency", "labour_rate_hour", "time_zone",
            "altitude_m", "pump_hose_m3",
            "pressure_unit", "length_unit", "torque_unit", "volume_unit", "mass_unit", "temperature_unit",
            "owners_need_second_factor",
        ]  # fmt: skip
        field_classes = {"labour_rate_hour": DecimalNumberField, "altitude_m": FloatNumberField}
        labels = {
            "labour_rate_hour": "Labour, each hour",
            "public_address": "Public address",
            "owners_need_second_factor": "Owners need a second factor to sign in",
            "altitude_m": "Height above sea level",
            "pressure_unit": "Pressure in",
            "length_unit": "Lengths in",
            "torque_unit": "Torque in",
            "volume_unit": "Volumes in",
            "mass_unit": "Weights in",
            "temperature_unit": "Temperatures in",
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].help_text = "The nearest large city, for example Europe/London."
        address = self.fields["public_address"]
        address.help_text = (
            "Where customers reach this shop from outside, such as https://shop.example.org. Links and codes for them "
            "begin with it; without it none are made."
        )
        address.widget.attrs.update({"inputmode": "url", "autocomplete": "off", "spellcheck": "false"})
        if is_set_by_server():
            address.help_text = f"Set on the server by PUBLIC_ADDRESS: {settings.PUBLIC_ADDRESS}"
            address.disabled = True
        self.fields["altitude_m"].unit = "m"  # type: ignore[attr-defined]
        self.fields["pump_hose_m3"] = quantity_field(
            self.instance, "volume", label="Air in the pump and its hose", required=False, low_si=0.0, high_si=50e-6,
            why_range="A shock pump and its hose hold a few ml.",
            help_text="What a reading costs in air each time. Measure it once: fill hose and pump head with water. "
            "Left empty: 3 ml, from memory, no published source.",
        )  # fmt: skip

    def clean_public_address(self) -> str:
        if is_set_by_server():
            return self.instance.public_address
        try:
            return public_address(str(self.cleaned_data["public_address"]))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error

    def clean_time_zone(self) -> str:
        zone = str(self.cleaned_data["time_zone"]).strip()
        if zone not in zoneinfo.available_timezones():
            raise forms.ValidationError("That time zone is not known. Enter one as in “Europe/London” or “UTC”.")
        return zone

    def clean_currency(self) -> str:
        currency = str(self.cleaned_data["currency"]).strip().upper()
        if len(currency) != 3 or not currency.isalpha():
            raise forms.ValidationError("Enter the three letters of the currency (ISO 4217), for example EUR.")
        return currency

    def clean_altitude_m(self) -> float:
        altitude_m = float(self.cleaned_data["altitude_m"])
        if not -500 <= altitude_m <= 5000:
            raise forms.ValidationError("Enter a height from −500 to 5,000 m: the air table reaches no further.")
        return altitude_m


class StaffForm(forms.Form):
    """A new member of staff."""

    first_name = forms.CharField(label="First name", max_length=150)
    last_name = forms.CharField(label="Family name", max_length=150, required=False)
    username = forms.CharField(
        label="Signs in as", max_length=150, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    role = forms.ChoiceField(label="Role", choices=User.Role.choices)

    def clean_username(self) -> str:
        username: str = User.normalize_username(self.cleaned_data["username"])
        User.username_validator(username)
        if User.objects.filter(username__iexact=username).exists():
            raise forms.ValidationError("Someone already signs in by that name. Choose another.")
        return username
