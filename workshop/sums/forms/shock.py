"""Asking for a rider, a linkage, and the coil or the air can of a shock."""

from __future__ import annotations

from typing import Any

from specs.physics.air_can import AirCan
from specs.typed_measures import Depth
from workshop.sums.answer import Answer, Missing
from workshop.sums.fields import ScaledField
from workshop.sums.forms.base import GroupPlan, SumForm
from workshop.sums.shock import NEWTONS_A_METRE, CoilGiven, shock_sum
from workshop.web.fields import DepthField, QuantityField, quantity_field

_CAN = {
    "bore_m": ("bore", "Bore of the can", "length", 15e-3, 80e-3),
    "body_m": ("body", "Damper body in it", "length", 8e-3, 70e-3),
    "positive_volume_m3": ("positive_volume", "Positive chamber, extended", "volume", 10e-6, 1e-3),
    "negative_volume_m3": ("negative_volume", "Negative chamber, extended", "volume", 0.5e-6, 5e-4),
    "port_travel_m": ("port_travel", "Travel at which they meet", "length", 0.0, 40e-3),
    "max_pressure_pa": ("max_pressure", "The shock’s maximum", "pressure", 3.4e4, 2.8e6),
}


class ShockForm(SumForm):
    """A load at the wheel becomes a load at the shock by the leverage; the rest follows from what is fitted."""

    groups = (
        GroupPlan("The bike", ("wheel_travel", "stroke")),
        GroupPlan(
            "The rider",
            ("rider_mass", "rear_share", "wanted_sag"),
            hint="The share is an assumption, common practice with no published source. The ring on the shock goes "
            "before it.",
        ),
        GroupPlan("A coil", ("rate", "preload")),
        GroupPlan(
            "An air can",
            tuple(name for name, *_ in _CAN.values()),
            may_fold=True,
            hint="All six or none. A coil has no chambers, and so no port.",
        ),
    )
    field_of = {
        "wheel_travel_m": "wheel_travel",
        "stroke_m": "stroke",
        "load_n": "rider_mass",
        "mass_kg": "rider_mass",
        "share": "rear_share",
        "sag_m": "wanted_sag",
        "rate_n_per_m": "rate",
        "preload_m": "preload",
        **{argument: name for argument, (name, *_) in _CAN.items()},
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop, length_unit = self.shop, self.shop.unit_for("length")
        self.fields["wheel_travel"] = quantity_field(
            shop, "length", label="Travel of the rear wheel", low_si=0.05, high_si=0.3, why_range="Bikes lie between."
        )
        self.fields["stroke"] = quantity_field(
            shop, "length", label="Stroke of the shock", low_si=0.02, high_si=0.1, why_range="Shocks lie between."
        )
        self.fields["rider_mass"] = quantity_field(
            shop, "mass", label="Rider with kit", low_si=15.0, high_si=250.0, why_range="Riders weigh between these."
        )
        self.fields["rear_share"] = QuantityField(
            dimension="fraction", unit="%", label="Share of that weight on the rear wheel", low_si=0.3, high_si=1.0,
            why_range="The rear wheel carries part of the rider.",
            help_text="Seated, about six tenths: common practice, no published source.",
        )  # fmt: skip
        self.fields["wanted_sag"] = DepthField(
            label="Sag wanted", unit="%", length_unit=length_unit, help_text="Of the shock’s stroke, or a depth there."
        )
        self.fields["rate"] = ScaledField(
            units=NEWTONS_A_METRE, low=5.0, high=300.0, example="65 N/mm or 375 lb/in", required=False,
            why_range="Coils for bicycles lie between.", label="Rate of the coil that is fitted",
            help_text="If blank: the coil that the sag asks for.",
        )  # fmt: skip
        self.fields["preload"] = quantity_field(
            shop, "length", label="Its preload", required=False, low_si=0.0, high_si=0.03,
            why_range="Collars go no further.", help_text="How far it is squeezed when extended. If blank: none.",
        )  # fmt: skip
        for name, label, dimension, low, high in _CAN.values():
            self.fields[name] = quantity_field(
                shop, dimension, label=label, required=False, low_si=low, high_si=high, why_range="Shocks lie between."
            )

    def work_out(self) -> Answer:
        stroke_m = self.cleaned_data["stroke"]
        wanted: Depth = self.cleaned_data["wanted_sag"]
        rate = self.given("rate")
        return shock_sum(
            wheel_travel_m=self.cleaned_data["wheel_travel"],
            stroke_m=stroke_m,
            rider_mass_kg=self.cleaned_data["rider_mass"],
            rear_share=self.cleaned_data["rear_share"],
            sag_m=wanted.of(stroke_m),
            coil=CoilGiven(None if rate is None else 1000 * rate, self.given("preload") or 0.0),
            can=self._can(stroke_m),
            altitude_m=self.shop.altitude_m,
            write=self.write,
        )

    def _can(self, stroke_m: float) -> AirCan | None:
        values = {argument: self.given(name) for argument, (name, *_) in _CAN.items()}
        if all(value is None for value in values.values()):
            return None
        for argument, value in values.items():
            if value is None:
                raise Missing(argument, "of an air can all six are needed")
        return AirCan(stroke_m=stroke_m, **values)
