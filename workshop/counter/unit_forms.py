"""Forms for forks and shocks."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from specs.facts import choices
from specs.models import SuspensionModel
from workshop.counter.finding import find_models, model_meant
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.web.fields import quantity_field

NOT_KNOWN = [("", "as its model, or not known")]
_NO_BROWSER_HELP = {"autocomplete": "off"}


class ModelChoice(forms.ModelChoiceField[SuspensionModel]):
    """A model by its id. The picker shows only models that were found, not every model there is."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=SuspensionModel.objects.all(), required=False, widget=forms.HiddenInput(), **kwargs)


class QuickUnitForm(forms.Form):
    """A new fork or shock while booking in. What is typed as make and model also looks for known models."""

    described_as = forms.CharField(
        label="Make and model", max_length=120, required=False, widget=forms.TextInput(attrs=_NO_BROWSER_HELP)
    )
    model = ModelChoice()
    listed_for = forms.CharField(required=False, strip=False, widget=forms.HiddenInput)
    kind = forms.ChoiceField(choices=choices("kind"), initial="fork", required=False, widget=forms.RadioSelect)
    serial = forms.CharField(max_length=60, required=False, widget=forms.TextInput(attrs=_NO_BROWSER_HELP))

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["travel_m"] = travel_field(shop)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self._take_the_model_meant(cleaned)
        if not cleaned.get("model") and not cleaned.get("described_as") and "described_as" not in self.errors:
            self.add_error("described_as", "Choose a model, or say in words what it is.")
        cleaned["kind"] = cleaned.get("kind") or "fork"
        return cleaned

    def _take_the_model_meant(self, cleaned: dict[str, Any]) -> None:
        """What was typed after the list of models came counts, also where the form was faster than the next list."""
        listed_for = cleaned.pop("listed_for", None) if self.add_prefix("listed_for") in self.data else None
        cleaned.pop("listed_for", None)
        chosen, text = cleaned.get("model"), cleaned.get("described_as") or ""
        if "model" in self.errors:
            return
        hits = [*find_models(text), *([chosen] if chosen else [])]
        meant = model_meant(text, listed_for=listed_for, chosen=chosen.pk if chosen else None, hits=hits)
        cleaned["model"] = next((hit for hit in hits if hit.pk == meant), None)


class UnitForm(QuickUnitForm):
    """Everything the shop keeps about a unit."""

    spring_kind = forms.ChoiceField(label="Spring", choices=NOT_KNOWN + choices("spring_kind"), required=False)
    air_side = forms.ChoiceField(choices=NOT_KNOWN + choices("air_side"), required=False)
    damper_kind = forms.ChoiceField(label="Damper", choices=NOT_KNOWN + choices("damper_kind"), required=False)
    notes = forms.CharField(required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))

    field_order = [
        "described_as", "model", "listed_for", "kind", "serial", "travel_m", "spring_kind", "air_side", "damper_kind",
        "notes",
    ]  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(self.field_order)

    @classmethod
    def of(cls, unit: SuspensionUnit, shop: Shop) -> UnitForm:
        return cls(shop=shop, initial={name: getattr(unit, name) for name in cls.field_order if name != "listed_for"})


class FitOnBikeForm(forms.Form):
    """Onto another bike of the shop's customers, or off the bike."""

    bike = forms.ModelChoiceField(
        queryset=Bike.objects.none(), required=False, empty_label="no bike, only the unit", label="Goes onto"
    )
    since = forms.DateField(
        label="Since", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), initial=timezone.localdate
    )

    def __init__(self, *args: Any, customer: Customer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bike"].queryset = Bike.objects.filter(customer=customer)  # type: ignore[attr-defined]


def travel_field(shop: Shop) -> forms.Field:
    return quantity_field(
        shop,
        "length",
        label="Travel",
        required=False,
        low_si=0.010,
        high_si=0.300,
        why_range="Forks and shocks move 10 to 300 mm.",
    )
