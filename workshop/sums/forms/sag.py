"""Asking for a rider, a measured sag and the sag wanted."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from diagnosis.places import ROOM_K, Place
from diagnosis.set_up import MeasuredSag, set_up
from specs.physics.air_spring import AirSpring
from specs.typed_measures import Depth
from workshop.sums.answer import Answer, Missing
from workshop.sums.fields import altitude_field, temperature_field
from workshop.sums.forms.base import GroupPlan
from workshop.sums.forms.spring import TYPED_GEOMETRY, SpringForm
from workshop.sums.sag import sag_answer
from workshop.web.fields import DepthField, QuantityField, quantity_field

_WEATHER = "Riding weather lies between these."


class SagForm(SpringForm):
    """Measured sag and pressure tell the load; without them a share of the rider's weight must be typed."""

    groups = (
        GroupPlan("The fork", ("model", "travel", "wanted_sag")),
        GroupPlan("Measured in the shop", ("measured_sag", "pressure", "rider_mass")),
        GroupPlan(
            "Nothing measured yet",
            ("fork_share", "head_angle"),
            may_fold=True,
            hint="An assumption, common practice with no published source. A measured sag goes before it.",
        ),
        GroupPlan(
            "From shop to trail",
            ("shop_altitude", "shop_temperature", "trail_altitude", "trail_temperature"),
            may_fold=True,
        ),
        TYPED_GEOMETRY,
    )
    field_of = {
        "travel_m": "travel",
        "measured_sag_m": "measured_sag",
        "wanted_sag_m": "wanted_sag",
        "measured_pressure_pa": "pressure",
        "rider_mass_kg": "rider_mass",
        "head_angle_deg": "head_angle",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop, length_unit = self.shop, self.shop.unit_for("length")
        self.fields["wanted_sag"] = DepthField(
            label="Sag wanted", unit="%", length_unit=length_unit, required=False,
            help_text="If blank: the middle of what the maker says, where that is known.",
        )  # fmt: skip
        self.fields["measured_sag"] = DepthField(
            label="Sag measured", unit=length_unit, length_unit=length_unit, required=False,
            help_text="With the rider on the bike, in riding kit.",
        )  # fmt: skip
        self.fields["pressure"] = quantity_field(
            shop, "pressure", label="Pressure it was measured at", required=False, low_si=7e3, high_si=2.8e6,
            why_range="Forks work between these.",
        )  # fmt: skip
        self.fields["rider_mass"] = quantity_field(
            shop, "mass", label="Rider with kit", required=False, low_si=15.0, high_si=250.0,
            why_range="Riders weigh between these.",
        )  # fmt: skip
        self.fields["fork_share"] = QuantityField(
            dimension="fraction", unit="%", label="Share of that weight on the fork", required=False, low_si=0.1,
            high_si=1.0, why_range="A fork carries part of the rider.",
            help_text="Your assumption. Standing, about half is on the fork: common practice, no published source.",
        )  # fmt: skip
        self.fields["head_angle"] = QuantityField(
            dimension="angle", unit="°", label="Head angle", required=False, low_si=math.radians(50),
            high_si=math.pi / 2, why_range="From the ground; forks lean between these.",
            help_text="If blank: the lean is left out.",
        )  # fmt: skip
        self.fields["shop_altitude"] = altitude_field(
            label="Height of the shop", help_text=f"If blank: {shop.altitude_m:g} m, as in the shop’s settings."
        )
        self.fields["shop_temperature"] = temperature_field(
            shop, low_c=-30.0, high_c=50.0, why_range=_WEATHER, label="Temperature in the shop",
            help_text=f"If blank: {self.write(ROOM_K, 'temperature')}.",
        )  # fmt: skip
        self.fields["trail_altitude"] = altitude_field(label="Height of the trail")
        self.fields["trail_temperature"] = temperature_field(
            shop, low_c=-30.0, high_c=50.0, why_range=_WEATHER, label="Temperature on the trail"
        )

    def work_out(self) -> Answer:
        travel_m = self.travel_m()
        spring = self.spring(travel_m)
        maximum_pa = self.given("max_pressure") or self.known("max_pressure")
        measured = self._measured(travel_m)
        shop, trail = self._places()
        made = set_up(
            spring,
            travel_m=travel_m,
            wanted_sag_m=self._wanted(travel_m),
            write=self.write,
            measured=measured,
            rider_mass_kg=self.given("rider_mass"),
            fork_share=self.given("fork_share"),
            head_angle_deg=math.degrees(self.given("head_angle")) if self.given("head_angle") else None,
            max_pressure_pa=maximum_pa,
            shop=shop,
            trail=trail,
        )
        if made.pressure_pa is None and measured is None:
            self._ask_for_a_load(spring)
        answer = sag_answer(made, travel_m=travel_m, max_pressure_pa=maximum_pa, write=self.write)
        return replace(answer, warnings=(*answer.warnings, *self.unchecked()))

    def _measured(self, travel_m: float) -> MeasuredSag | None:
        sag: Depth | None = self.given("measured_sag")
        pressure_pa = self.given("pressure")
        if sag is None and pressure_pa is None:
            return None
        if sag is None:
            raise Missing("measured_sag", "a pressure was given: give the sag that was measured at it")
        if pressure_pa is None:
            raise Missing("pressure", "a sag was given: give the pressure it was measured at")
        return MeasuredSag(sag.of(travel_m), pressure_pa)

    def _wanted(self, travel_m: float) -> float:
        wanted: Depth | None = self.given("wanted_sag")
        if wanted is not None:
            return wanted.of(travel_m)
        low, high = self.known("sag_low"), self.known("sag_high")
        if low is None or high is None:
            raise Missing("wanted_sag", "say what sag is wanted; no value of the maker’s is known here")
        return (low + high) / 2 * travel_m

    def _places(self) -> tuple[Place, Place | None]:
        altitude_m, kelvin = self.given("shop_altitude"), self.given("shop_temperature")
        shop = Place(self.shop.altitude_m if altitude_m is None else altitude_m, ROOM_K if kelvin is None else kelvin)
        altitude_m, kelvin = self.given("trail_altitude"), self.given("trail_temperature")
        if altitude_m is None and kelvin is None:
            return shop, None
        return shop, Place(
            shop.altitude_m if altitude_m is None else altitude_m, shop.temperature_k if kelvin is None else kelvin
        )

    def _ask_for_a_load(self, spring: object) -> None:
        """Refuse beside the field that is missing for any pressure at all."""
        if not isinstance(spring, AirSpring):
            raise Missing(
                "measured_sag_m",
                "this spring’s geometry is not all known, so a measured sag and its pressure are needed",
            )
        if self.given("fork_share") is None:
            raise Missing(
                "measured_sag_m", "measure a sag at a known pressure, or type an assumed share of the rider’s weight"
            )
        raise Missing("rider_mass_kg", "the share is of the rider’s weight: give it")
