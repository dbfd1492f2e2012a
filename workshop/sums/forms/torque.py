"""Asking for a torque and the wrench it is put on with."""

from __future__ import annotations

import math
from typing import Any

from django import forms

from specs.physics.torque import PROOF_STRESS_MPA, THREADS
from workshop.sums.answer import Answer
from workshop.sums.forms.base import GroupPlan, SumForm
from workshop.sums.torque import wrench_sum
from workshop.web.fields import QuantityField, quantity_field

_NO_BICYCLE = "No bolt on a bicycle takes more than a few hundred N·m, and no wrench here reads less."


class TorqueForm(SumForm):
    """Torque at the bolt, an extension, the tool's range and the bolt's size; all but the torque may be left out."""

    thread = forms.ChoiceField(
        label="Bolt size",
        required=False,
        choices=[("", "not checked"), *((thread, thread) for thread in THREADS)],
        help_text="To catch a slipped decimal point.",
    )
    property_class = forms.ChoiceField(
        label="Property class",
        required=False,
        choices=[(name, name) for name in PROOF_STRESS_MPA],
        help_text="Stamped on the bolt’s head.",
    )

    groups = (
        GroupPlan("The bolt", ("torque", "thread", "property_class")),
        GroupPlan("The extension", ("wrench", "extension", "angle")),
        GroupPlan("The tool", ("tool_max",)),
    )
    field_of = {
        "torque_nm": "torque",
        "target_nm": "torque",
        "wrench_m": "wrench",
        "wrench_length_m": "wrench",
        "extension_m": "extension",
        "extension_angle_deg": "angle",
        "tool_max_nm": "tool_max",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop = self.shop
        self.fields["torque"] = quantity_field(
            shop, "torque", label="Torque at the bolt", low_si=0.1, high_si=400.0, why_range=_NO_BICYCLE
        )
        self.fields["wrench"] = quantity_field(
            shop, "length", label="Wrench, grip to drive", required=False, low_si=0.05, high_si=1.5,
            why_range="Shorter or longer is no torque wrench.",
        )  # fmt: skip
        self.fields["extension"] = quantity_field(
            shop, "length", label="Extension, drive to bolt", required=False, low_si=0.0, high_si=1.0,
            why_range="A longer extension bends more than it turns.",
        )  # fmt: skip
        self.fields["angle"] = QuantityField(
            dimension="angle", unit="°", label="Angle of the extension", required=False, low_si=0.0, high_si=math.pi,
            why_range="In line is 0°, folded back to the hand 180°.", help_text="If blank: 0°, in line.",
        )  # fmt: skip
        self.fields["tool_max"] = quantity_field(
            shop, "torque", label="Greatest torque of the tool", required=False, low_si=0.5, high_si=1000.0,
            why_range="Torque tools end between these.", help_text="Its class says how far off it may be.",
        )  # fmt: skip

    def work_out(self) -> Answer:
        return wrench_sum(
            torque_nm=self.cleaned_data["torque"],
            write=self.write,
            wrench_m=self.given("wrench"),
            extension_m=self.given("extension"),
            angle_deg=math.degrees(self.given("angle") or 0.0),
            tool_max_nm=self.given("tool_max"),
            thread=self.given("thread") or "",
            property_class=self.given("property_class") or next(iter(PROOF_STRESS_MPA)),
        )
