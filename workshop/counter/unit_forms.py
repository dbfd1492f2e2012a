"""Forms for forks and shocks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from specs.contradictions import contradictions
from specs.facts import choices
from specs.models import SuspensionModel
from workshop.counter.finding import find_models, model_meant
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop
from workshop.suspension.models import OWN_FACTS, SuspensionUnit
from workshop.suspension.unit_fields import UNIT_FIELDS, UnitField
from workshop.web.fields import quantity_field

NOT_KNOWN = [("", "as its model, or not known")]
_NO_BROWSER_HELP = {"autocomplete": "off"}
MOST_LETTERS = 2000


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
    noted_fields: ClassVar[Sequence[UnitField]] = tuple(field for field in UNIT_FIELDS if field.at_booking)

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.noted_fields:
            self.fields[field.name] = form_field(field, shop)

    @property
    def noted(self) -> list[forms.BoundField]:
        """The fields of UNIT_FIELDS that this form asks, for its template."""
        return [self[field.name] for field in self.noted_fields]

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

    noted_fields = UNIT_FIELDS

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        model = cleaned.get("model")
        typed = {key: cleaned.get(key) or "" for key in OWN_FACTS}
        unit = SuspensionUnit(kind=model.kind if model else cleaned["kind"], model=model, **typed)
        for field, reason in contradictions(unit.facts()).items():
            self.add_error(field, reason)
        return cleaned

    @classmethod
    def of(cls, unit: SuspensionUnit, shop: Shop) -> UnitForm:
        names = ("described_as", "model", "kind", *(field.name for field in cls.noted_fields))
        return cls(shop=shop, initial={name: getattr(unit, name) for name in names})


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


def form_field(field: UnitField, shop: Shop) -> forms.Field:
    """The form's field for a declared one, after its column. None of them has to be filled in."""
    if field.measured is not None:
        measured = field.measured
        return quantity_field(
            shop,
            measured.dimension,
            label=field.label,
            required=False,
            low_si=measured.low_si,
            high_si=measured.high_si,
            why_range=measured.why_range,
        )
    if field.choices:
        choices_of = [*NOT_KNOWN, *field.choices.items()]
        return forms.ChoiceField(label=field.label, choices=choices_of, required=False)
    if field.is_long:
        widget = forms.Textarea(attrs={"rows": 2})
        return forms.CharField(label=field.label, required=False, max_length=MOST_LETTERS, widget=widget)
    longest = getattr(SuspensionUnit._meta.get_field(field.name), "max_length", None)
    typed = forms.TextInput(attrs=_NO_BROWSER_HELP)
    return forms.CharField(label=field.label, required=False, max_length=longest, widget=typed)
