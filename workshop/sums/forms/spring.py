"""Asking for a fork's spring: by its model and travel, with values typed in where the model's are missing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from specs.contradictions import COILS
from specs.lookup import GEOMETRY, GeometryGap, current_values
from specs.models import SpecValue, SuspensionModel
from specs.physics.air_spring import AirSpring, ImpossibleValue
from specs.quantities import QUANTITIES
from workshop.sums.answer import Missing
from workshop.sums.forms.base import GroupPlan, SumForm
from workshop.web.fields import QuantityField, quantity_field

TYPED_GEOMETRY = GroupPlan(
    "The spring, typed in",
    tuple(GEOMETRY),
    may_fold=True,
    hint="What is typed here goes before the model’s value. Nothing missing is guessed.",
)


class SpringForm(SumForm):
    """Model, travel and typed geometry. A value typed here stands for this sum alone and is not kept."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        forks = SuspensionModel.objects.filter(kind="fork").exclude(spring_kind__in=COILS)
        self.fields["model"] = forms.ModelChoiceField(
            forks, label="Model", required=False, empty_label="not on the list, or typed below"
        )
        self.fields["model"].wide = True  # type: ignore[attr-defined]
        self.fields["travel"] = quantity_field(
            self.shop, "length", label="Travel", required=False, low_si=0.03, high_si=0.3,
            why_range="Forks have travels between these.",
        )  # fmt: skip
        for key in GEOMETRY:
            self.fields[key] = self._geometry_field(key)
        self.values: Mapping[str, SpecValue] = {}

    def _geometry_field(self, key: str) -> QuantityField:
        quantity = QUANTITIES[key]
        dimension = quantity.dimension or "length"
        return quantity_field(
            self.shop, dimension, label=quantity.label, required=False, low_si=quantity.low, high_si=quantity.high,
            why_range=quantity.why_range,
        )  # fmt: skip

    def travel_m(self) -> float:
        """The travel chosen; a model made in one travel needs none. Raises ImpossibleValue naming `travel`."""
        model, typed_m = self.given("model"), self.given("travel")
        if model is None:
            if typed_m is None:
                raise Missing("travel", "choose a model, or give the travel")
            return float(typed_m)
        made_in = [int(travel) for travel in model.travels_mm]
        shown = ", ".join(self.write(travel / 1000, "length") for travel in made_in)
        if typed_m is None:
            if len(made_in) == 1:
                return made_in[0] / 1000
            raise Missing("travel", f"choose the travel; this model is made with {shown}" if shown else "give it")
        if made_in and round(typed_m * 1000) not in made_in:
            raise ImpossibleValue("travel", f"this model is made with {shown}")
        return float(typed_m)

    def spring(self, travel_m: float) -> AirSpring | GeometryGap:
        """The air spring from what was typed and what the model has, or what is missing. One query."""
        model = self.given("model")
        self.values = {} if model is None else current_values(model, round(travel_m * 1000))
        typed = {key: self.given(key) for key in GEOMETRY}
        known = {key: typed[key] if typed[key] is not None else self.known(key) for key in GEOMETRY}
        if missing := tuple(key for key, value in known.items() if value is None):
            return GeometryGap(missing)
        try:
            return AirSpring(travel_m=travel_m, **{GEOMETRY[key]: float(value or 0.0) for key, value in known.items()})
        except ImpossibleValue as error:
            field = next((key for key, name in GEOMETRY.items() if name == error.field), error.field)
            raise ImpossibleValue(field, error.reason) from error

    def known(self, key: str) -> float | None:
        """The model's own value in SI, after `spring` looked it up."""
        return self.values[key].magnitude_si if key in self.values else None

    def unchecked(self) -> tuple[str, ...]:
        """A warning for values of the model that nobody compared with the manual yet, where they are used."""
        used = [self.values[key] for key in GEOMETRY if key in self.values and self.given(key) is None]
        names = ", ".join(str(value.get_quantity_display()).lower() for value in used if not value.is_checked)
        return (f"Not checked against the manual: {names}.",) if names else ()
