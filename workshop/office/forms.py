"""Forms of the Office."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.conf import settings
from django.db import transaction

from workshop.charges.prices import tax_name_follows
from workshop.promise.closed import countries, holidays_follow
from workshop.staff.countries import usual_paper
from workshop.staff.models import Shop, User
from workshop.staff.roles import Role
from workshop.till.standing import has_open_money
from workshop.web.fields import DecimalNumberField, FloatNumberField, WholeNumberField, quantity_field
from workshop.web.public_address import is_set_by_server, public_address
from workshop.web.versions import take_version


class ShopForm(forms.ModelForm[Shop]):
    """The shop's name on paper, its units and its clock."""

    class Meta:
        model = Shop
        fields = [
            "name", "address", "phone", "email", "public_address", "country", "paper", "currency",
            "labour_rate_hour", "time_zone", "altitude_m", "pump_hose_m3",
            "pressure_unit", "length_unit", "torque_unit", "volume_unit", "mass_unit", "temperature_unit",
            "slip_terms", "owners_need_second_factor", "waiting_keeps_days",
        ]  # fmt: skip
        field_classes = {
            "labour_rate_hour": DecimalNumberField,
            "altitude_m": FloatNumberField,
            "waiting_keeps_days": WholeNumberField,
        }
        labels = {
            "labour_rate_hour": "Labour, each hour",
            "public_address": "Public address",
            "owners_need_second_factor": "Owners need a second factor to sign in",
            "slip_terms": "Terms that a customer signs",
            "altitude_m": "Height above sea level",
            "waiting_keeps_days": "A ticket that waits for its customer keeps its parts",
            "pressure_unit": "Pressure in",
            "length_unit": "Lengths in",
            "torque_unit": "Torque in",
            "volume_unit": "Volumes in",
            "mass_unit": "Weights in",
            "temperature_unit": "Temperatures in",
        }
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "slip_terms": forms.Textarea(attrs={"rows": 6}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields[
            "slip_terms"
        ].help_text = "Stands on the slip to sign, in your own words. Have it checked against the law of your country."
        self.fields["country"] = forms.ChoiceField(
            label="Country",
            required=False,
            choices=[("", "not said, or not in the list"), *countries()],
            help_text="Public holidays, paper, how money is written and what the tax and its number are called follow "
            "it, unless they were chosen.",
        )
        self._country_before, self._paper_before = self.instance.country, self.instance.paper
        self.followed: list[str] = []  # what followed another country, in words
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
        keeps = self.fields["waiting_keeps_days"]
        keeps.unit = "days"  # type: ignore[attr-defined]
        keeps.help_text = (
            "Then they go to other tickets first until there is an answer. If blank: it always keeps them."
        )
        self.fields["altitude_m"].unit = "m"  # type: ignore[attr-defined]
        self.fields["pump_hose_m3"] = quantity_field(
            self.instance, "volume", label="Air in the pump and its hose", required=False, low_si=0.0, high_si=50e-6,
            why_range="A shock pump and its hose hold a few ml.",
            help_text="What a reading costs in air each time. Measure it once: fill hose and pump head with water. "
            "If blank: 3 ml, not verified against a published source.",
        )  # fmt: skip

    def save_settings(self, seen_version: int) -> Shop:
        """Save what the form shows and nothing else of the shop, whose numbers run on. Raises StaleVersion."""
        with transaction.atomic():
            take_version(self.instance, seen_version)
            if self.instance.country != self._country_before:
                self._follow_country()
            self.instance.save(update_fields=list(self.fields))
        return self.instance

    def _follow_country(self) -> None:
        """Let follow what nobody chose otherwise: paper, name of the tax, public holidays."""
        shop = self.instance
        usual = usual_paper(shop.country)
        if shop.paper == self._paper_before == usual_paper(self._country_before) != usual:
            shop.paper = usual
            self.followed.append(f"The paper is {shop.get_paper_display()} now.")
        if named := tax_name_follows(shop=shop, country_before=self._country_before):
            self.followed.append(f"The tax is called {named} now; see Prices.")
        if holidays_follow(shop=shop, country_before=self._country_before):
            self.followed.append("The bench rests on its public holidays; see Capacity for a part of the country.")

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
        if currency != self.initial.get("currency") and has_open_money(self.instance):
            raise forms.ValidationError(
                "The currency stays while sums are open or deposits are held: see the open sums at the counter."
            )
        return currency

    def clean_altitude_m(self) -> float:
        altitude_m = float(self.cleaned_data["altitude_m"])
        if not -500 <= altitude_m <= 5000:
            raise forms.ValidationError("Enter a height from −500 to 5,000 m: the air table reaches no further.")
        return altitude_m


class StaffForm(forms.Form):
    """A member of staff, new or changed. Whether the sign-in name is free, the rule says that writes it."""

    first_name = forms.CharField(label="First name", max_length=150)
    last_name = forms.CharField(label="Family name", max_length=150, required=False)
    username = forms.CharField(
        label="Signs in as", max_length=150, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    roles = forms.MultipleChoiceField(
        label="Roles",
        choices=Role.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose one role at least."},
        help_text="Whoever books in, repairs and hands over has several.",
    )

    @classmethod
    def of(cls, member: User) -> StaffForm:
        named = {name: getattr(member, name) for name in ("first_name", "last_name", "username")}
        return cls(initial={**named, "roles": member.roles.split()})

    def clean_username(self) -> str:
        username: str = User.normalize_username(self.cleaned_data["username"])
        User.username_validator(username)
        return username
