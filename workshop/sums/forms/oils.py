"""Asking for an oil by name or by its data sheet, and for a second one to mix in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Exists, OuterRef

from specs.models import Oil as OilRecord
from specs.physics.errors import ImpossibleValue
from specs.physics.oil import HIGHEST_MM2_S, LOWEST_MM2_S, ZERO_CELSIUS_K, OilAtTwoTemperatures
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.sums.answer import Answer, Missing
from workshop.sums.fields import temperature_field, viscosity_field
from workshop.sums.forms.base import GroupPlan, SumForm
from workshop.sums.oils import Mixing, NamedOil, oil_sum
from workshop.web.fields import QuantityField

DEFAULT_C = 20.0
_STANDARD = "The standards’ equations hold between these."
TYPED_NAME = "The typed oil"


def shop_oils(shop: Shop) -> list[NamedOil]:
    """Every oil on the list, and whether the shop keeps it; one query."""
    kept = StockItem.objects.filter(shop=shop, part__oil=OuterRef("pk"))
    oils = OilRecord.objects.annotate(in_stores=Exists(kept))
    return [NamedOil(oil.name, oil.kv40_mm2_s, oil.kv100_mm2_s, oil.in_stores) for oil in oils]


class OilForm(SumForm):
    """An oil by name, or by its viscosities at 40 and 100 °C."""

    groups = (
        GroupPlan("The oil", ("oil", "kv40", "kv100", "temperature"), hint="By name, or typed from its data sheet."),
        GroupPlan("Mix in a second oil", ("mix_with", "share", "wanted_kv40"), may_fold=True),
    )
    field_of = {
        "kv40_mm2_s": "kv40",
        "kv100_mm2_s": "kv100",
        "temperature_c": "temperature",
        "wanted_kv40_mm2_s": "wanted_kv40",
        "mixing": "mix_with",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.oils = {named.name: named for named in shop_oils(self.shop)}
        names = [
            (name, name if named.oil() else f"{name} (viscosities not known)") for name, named in self.oils.items()
        ]
        self.fields["oil"] = forms.ChoiceField(label="Oil", required=False, choices=[("", "typed below"), *names])
        self.fields["kv40"] = viscosity_field(
            label="Viscosity at 40 °C", low=LOWEST_MM2_S, high=HIGHEST_MM2_S, why_range=_STANDARD
        )
        self.fields["kv100"] = viscosity_field(
            label="Viscosity at 100 °C", low=LOWEST_MM2_S, high=1000.0,
            why_range="Below 2 mm²/s the index is not defined.",
        )  # fmt: skip
        self.fields["temperature"] = temperature_field(
            self.shop, low_c=-60.0, high_c=250.0, why_range="No fork works hotter or colder.",
            label="Working temperature",
            help_text=f"If blank: {self.write(DEFAULT_C + ZERO_CELSIUS_K, 'temperature')}.",
        )  # fmt: skip
        self.fields["mix_with"] = forms.ChoiceField(label="Second oil", required=False, choices=[("", "none"), *names])
        self.fields["share"] = QuantityField(
            dimension="fraction", unit="%", label="Share of the second oil", required=False, low_si=0.0, high_si=1.0,
            why_range="By volume, of the whole.",
        )  # fmt: skip
        self.fields["wanted_kv40"] = viscosity_field(
            label="or the viscosity wanted at 40 °C", low=LOWEST_MM2_S, high=HIGHEST_MM2_S, why_range=_STANDARD,
            help_text="Then the share is worked out.",
        )  # fmt: skip

    def work_out(self) -> Answer:
        name, oil = self._oil()
        kelvin = self.given("temperature")
        temperature_c = DEFAULT_C if kelvin is None else kelvin - ZERO_CELSIUS_K
        words = {c: self.write(c + ZERO_CELSIUS_K, "temperature") for c in (40.0, 100.0, temperature_c)}
        return oil_sum(
            name=name,
            oil=oil,
            temperature_c=temperature_c,
            temperature_words=words,
            shop_oils=tuple(self.oils.values()),
            mixing=self._mixing(),
        )

    def _oil(self) -> tuple[str, OilAtTwoTemperatures]:
        name, kv40, kv100 = self.given("oil"), self.given("kv40"), self.given("kv100")
        if kv40 is not None and kv100 is not None:
            return name or TYPED_NAME, OilAtTwoTemperatures(kv40, kv100)
        if kv40 is not None or kv100 is not None:
            missing = "kv100" if kv100 is None else "kv40"
            raise Missing(missing, "the oil is told by both viscosities, at 40 and at 100 °C")
        if name is None:
            raise Missing("oil", "choose an oil, or type its two viscosities")
        return name, self._known("oil", name)

    def _known(self, field: str, name: str) -> OilAtTwoTemperatures:
        oil = self.oils[name].oil()
        if oil is None:
            raise ImpossibleValue(field, f"the viscosities of {name} are not known: take them from its data sheet")
        return oil

    def _mixing(self) -> Mixing | None:
        name = self.given("mix_with")
        if name is None:
            return None
        share, wanted = self.given("share"), self.given("wanted_kv40")
        if share is not None and wanted is not None:
            raise ImpossibleValue("wanted_kv40", "give the share or the viscosity wanted, not both")
        return Mixing(name, self._known("mix_with", name), share, wanted)
