"""Forms of the specs: a value, a withdrawal, a model with its facts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict

from specs.contradictions import DOUBTFUL_TWIN_CROWN, contradictions, is_doubtful_twin_crown
from specs.entering import ValueSource
from specs.facts import MODEL_FACTS, choices, facts_of_kind
from specs.lookup import shown_unit
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import Quantity
from specs.typed_values import LONGEST_TEXT, ValueRefused, read_typed
from specs.units import DIMENSIONS, from_si
from workshop.staff.models import Shop
from workshop.web.fields import WholeNumberField
from workshop.web.meant import is_meant

_LONGEST_TRAVEL_MM = 400


class ValueForm(forms.Form):
    """A value as typed, with its source. The rules in specs.entering judge it; `seen` is the version on the screen."""

    travel_mm = forms.TypedChoiceField(label="For", coerce=int)
    typed = forms.CharField(label="Value", max_length=LONGEST_TEXT)
    tolerance = forms.CharField(label="Plus or minus", max_length=40, required=False)
    source_document = forms.CharField(
        label="Source", max_length=160, help_text="The manual, sheet, sticker or letter that says so."
    )
    source_revision = forms.CharField(label="Revision", max_length=40, required=False)
    source_page = forms.CharField(label="Page", max_length=40, required=False)
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, model: SuspensionModel, quantity: Quantity, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.quantity = quantity
        self.shown_unit = shown_unit(quantity, shop.unit_for)
        travels = [(ALL_TRAVELS, "every travel"), *((travel, f"{travel} mm only") for travel in model.travels_mm)]
        self.fields["travel_mm"] = forms.TypedChoiceField(label="For", coerce=int, choices=travels)
        for field in self.fields.values():
            field.widget.attrs["autocomplete"] = "off"
        if quantity.dimension is None:
            del self.fields["tolerance"]
            return
        example = DIMENSIONS[quantity.dimension].example
        self.fields["typed"].help_text = f"Any unit will do, for example {example}."
        self.fields["tolerance"].help_text = "In the same unit, or in percent. Empty if the source gives none."
        self.fields["typed"].unit = self.fields["tolerance"].unit = self.shown_unit  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Judge the value here as well as in the rules, so that every error shows at once."""
        cleaned = super().clean() or {}
        if "typed" in cleaned:
            try:
                read_typed(
                    quantity=self.quantity.key, typed=cleaned["typed"], unit=self.shown_unit,
                    tolerance=cleaned.get("tolerance", ""), travel_mm=cleaned.get("travel_mm") or ALL_TRAVELS,
                )  # fmt: skip
            except ValueRefused as refused:
                self.add_error(refused.field, refused.reason)
        return cleaned

    def put_in_place_of(self, stored: SpecValue) -> None:
        """Make the next send replace a version that was written meanwhile."""
        if isinstance(self.data, QueryDict):
            self.data = {**self.data.dict(), "seen": str(stored.pk)}

    @property
    def source(self) -> ValueSource:
        cleaned = self.cleaned_data
        return ValueSource(cleaned["source_document"], cleaned["source_revision"], cleaned["source_page"])


def stored_in_form(stored: SpecValue, unit: str, quantity: Quantity) -> dict[str, object]:
    """What a ValueForm starts with when a stored value is changed: the value as it was typed."""
    tolerance = ""
    if stored.tolerance_si is not None and quantity.dimension is not None:
        step = from_si(stored.tolerance_si, quantity.dimension, unit)
        tolerance = f"{step:.10g} {unit}"
    return {
        "travel_mm": stored.travel_mm,
        "typed": stored.typed,
        "tolerance": tolerance,
        "source_document": stored.source_document,
        "source_revision": stored.source_revision,
        "source_page": stored.source_page,
        "seen": stored.pk,
    }


class WithdrawForm(forms.Form):
    """Why a value is not known after all."""

    why = forms.CharField(label="Why is it not known after all?", max_length=160)
    seen = forms.IntegerField(widget=forms.HiddenInput)


class TravelsField(forms.CharField):
    """Travels in mm as people write them: “140, 150 160”."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(str(travel) for travel in value) if isinstance(value, list) else value

    def clean(self, value: Any) -> Any:
        parts = [part for part in re.split(r"[\s,;/]+", super().clean(value).replace("mm", " ")) if part]
        if not all(part.isdecimal() and 0 < int(part) <= _LONGEST_TRAVEL_MM for part in parts):
            raise forms.ValidationError(
                f"Enter whole millimetres up to {_LONGEST_TRAVEL_MM} with commas between, for example 140, 150."
            )
        return sorted({int(part) for part in parts})


NOT_KNOWN_HERE = "Not known yet. Until it is, the bench sees each way with its “if” and has to look."


class ModelForm(forms.ModelForm[SuspensionModel]):
    """A model, its years and the facts that decide how it comes apart. An empty fact is not known."""

    travels_mm = TravelsField(
        label="Made in travels", required=False, help_text="With commas between. A shock: its strokes.", max_length=120
    )
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = SuspensionModel
        fields = ["maker", "name", "year_from", "year_to", "travels_mm", *MODEL_FACTS]
        field_classes = {"year_from": WholeNumberField, "year_to": WholeNumberField}
        labels = {
            "name": "Model",
            "year_from": "Made from",
            "year_to": "Until",
            **{key: fact.label for key, fact in MODEL_FACTS.items()},
        }
        help_texts = {"year_to": "Empty while it is still made."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["travels_mm"].unit = "mm"  # type: ignore[attr-defined]
        for key in MODEL_FACTS:
            field = self.fields[key]
            if isinstance(field, forms.NullBooleanField):
                field.widget.choices = [("unknown", "not known"), ("true", "yes"), ("false", "no")]
            elif isinstance(field, forms.TypedChoiceField) and not field.required:
                field.choices = [("", "not known"), *choices(key)]
            if (
                self.instance.pk
                and getattr(self.instance, key) in ("", None)
                and key in facts_of_kind(self.instance.kind)
            ):
                field.help_text = NOT_KNOWN_HERE

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        year_from, year_to = cleaned.get("year_from"), cleaned.get("year_to")
        for field, year in (("year_from", year_from), ("year_to", year_to)):
            if year is not None and not 1980 <= year <= 2100:
                self.add_error(field, "Enter a year in four digits, for example 2021.")
        if year_from and year_to and year_to < year_from:
            self.add_error("year_to", f"It was first made in {year_from}; it cannot end before.")
        for field, reason in contradictions({key: cleaned.get(key) for key in MODEL_FACTS}).items():
            self.add_error(field, reason)
        self._ask_about_twin_crown(cleaned)
        return cleaned

    def _ask_about_twin_crown(self, cleaned: Mapping[str, Any]) -> None:
        """A trail fork with a stem clamp only is easily noted as one of two crowns, and is then tightened as one."""
        travels = cleaned.get("travels_mm") or []
        if is_doubtful_twin_crown(cleaned, travels) and not (self.instance.pk and self.initial.get("crowns") == "twin"):
            label = f"Yes, legs held in two crowns, at {max(travels)} mm"
            if not is_meant(self, "twin_crown_meant", value=str(max(travels)), label=label, after="crowns"):
                self.add_error("crowns", DOUBTFUL_TWIN_CROWN)

    def put_in_place_of(self, stored: SuspensionModel) -> None:
        """Make the next send replace facts that were saved meanwhile."""
        if isinstance(self.data, QueryDict):
            self.data = {**self.data.dict(), "seen_version": str(stored.version)}

    @property
    def facts(self) -> dict[str, object]:
        """What add_model and change_model take."""
        return {field: self.cleaned_data[field] for field in self.Meta.fields}
