"""Asking for a pump reading, and for the hose, the journey and the fork that change it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from diagnosis.places import ROOM_K, Carry, Place
from specs.lookup import GEOMETRY, GeometryGap
from specs.physics.air_spring import AirSpring
from workshop.sums.answer import Answer, Missing
from workshop.sums.fields import altitude_field, temperature_field
from workshop.sums.forms.base import GroupPlan
from workshop.sums.forms.spring import TYPED_GEOMETRY, SpringForm
from workshop.sums.pump import pump_sum
from workshop.web.fields import quantity_field

_WEATHER = "Riding weather lies between these."


class PumpForm(SpringForm):
    """A pressure, and whichever of hose, journey and fork is of interest."""

    groups = (
        GroupPlan("The pump", ("pressure", "hose", "chamber")),
        GroupPlan("The fork", ("model", "travel"), hint="For the rounds of pumping, and its chamber’s volume."),
        GroupPlan(
            "From here to there",
            ("from_altitude", "from_temperature", "to_altitude", "to_temperature"),
            may_fold=True,
        ),
        TYPED_GEOMETRY,
    )
    field_of = {
        "pressure_pa": "pressure",
        "set_pa": "pressure",
        "chamber_m3": "chamber",
        "hose_m3": "hose",
        "travel_m": "travel",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop = self.shop
        self.fields["pressure"] = quantity_field(
            shop,
            "pressure",
            label="Pressure",
            low_si=7e3,
            high_si=2.8e6,
            why_range="Forks and shocks work between these.",
        )
        self.fields["hose"] = quantity_field(
            shop, "volume", label="Air in the pump’s hose", required=False, low_si=0.0, high_si=50e-6,
            why_range="A shock pump’s hose holds a few ml.",
            help_text="Measure it once by filling it with water. If blank: no sum of the hose.",
        )  # fmt: skip
        self.fields["chamber"] = quantity_field(
            shop, "volume", label="Chamber it is screwed to", required=False, low_si=1e-6, high_si=1e-3,
            why_range="Chambers of forks and shocks lie between.", help_text="If blank: the fork’s positive chamber.",
        )  # fmt: skip
        for end, place in (("from", "here"), ("to", "there")):
            assumed = f"If blank: {shop.altitude_m:g} m, the shop." if end == "from" else ""
            self.fields[f"{end}_altitude"] = altitude_field(label=f"Height {place}", help_text=assumed)
            self.fields[f"{end}_temperature"] = temperature_field(
                shop, low_c=-30.0, high_c=50.0, why_range=_WEATHER, label=f"Temperature {place}",
                help_text=f"If blank: {self.write(ROOM_K, 'temperature')}." if end == "from" else "",
            )  # fmt: skip

    def work_out(self) -> Answer:
        spring = self._spring()
        chamber_m3 = self.given("chamber") or self.given("positive_volume") or self.known("positive_volume")
        answer = pump_sum(
            pressure_pa=self.cleaned_data["pressure"],
            write=self.write,
            chamber_m3=chamber_m3,
            hose_m3=self.given("hose"),
            journey=self._journey(),
            spring=spring,
        )
        return replace(answer, warnings=(*answer.warnings, *self.unchecked()))

    def _spring(self) -> AirSpring | GeometryGap | None:
        """None where no fork was asked about."""
        asked = ("model", "travel", *GEOMETRY)
        if all(self.given(name) is None for name in asked):
            return None
        return self.spring(self.travel_m())

    def _journey(self) -> Carry | None:
        altitude_m, kelvin = self.given("to_altitude"), self.given("to_temperature")
        if altitude_m is None and kelvin is None:
            if self.given("from_altitude") is not None or self.given("from_temperature") is not None:
                raise Missing("to_altitude", "say where it goes, or how warm it is there")
            return None
        here_m, here_k = self.given("from_altitude"), self.given("from_temperature")
        here = Place(self.shop.altitude_m if here_m is None else here_m, ROOM_K if here_k is None else here_k)
        return Carry(
            here,
            Place(
                here.altitude_m if altitude_m is None else altitude_m, here.temperature_k if kelvin is None else kelvin
            ),
        )
