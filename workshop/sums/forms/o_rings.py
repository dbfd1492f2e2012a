"""Asking for a measured o-ring and the groove it goes into."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.sums.answer import Answer
from workshop.sums.forms.base import GroupPlan, SumForm
from workshop.sums.o_rings import Groove, o_ring_sum
from workshop.web.fields import QuantityField, quantity_field


class ORingForm(SumForm):
    """Inside diameter and section of the ring; the groove as far as it was measured."""

    motion = forms.ChoiceField(
        label="The seal",
        required=False,
        choices=[("static", "stands still"), ("dynamic", "slides")],
        help_text="A sliding seal is squeezed less.",
    )

    gland = forms.ChoiceField(
        label="The groove is",
        required=False,
        choices=[("piston", "in a piston"), ("rod", "around a rod")],
    )

    groups = (
        GroupPlan("The ring", ("inside", "section"), hint="Measure it clean, dry and unstretched."),
        GroupPlan(
            "The groove", ("gland", "groove_diameter", "depth", "width", "motion"), hint="Only what was measured."
        ),
    )
    field_of = {
        "inside_mm": "inside",
        "section_mm": "section",
        "groove_diameter_mm": "groove_diameter",
        "gland_depth_mm": "depth",
        "depth_m": "depth",
        "gland_width_mm": "width",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["inside"] = self._length("Inside diameter", 1, 300)
        self.fields["section"] = self._length("Section (thickness)", 0.5, 10)
        self.fields["groove_diameter"] = self._length("Diameter of the groove’s floor", 1, 330, required=False)
        self.fields["depth"] = self._length(
            "Depth of the gland",
            0.3,
            15,
            required=False,
            help_text="From the groove’s floor to the bore or rod it seals on.",
        )
        self.fields["width"] = self._length("Width of the groove", 0.3, 30, required=False)

    def _length(self, label: str, low_mm: float, high_mm: float, **kwargs: Any) -> QuantityField:
        return quantity_field(
            self.shop,
            "length",
            label=label,
            low_si=low_mm / 1000,
            high_si=high_mm / 1000,
            why_range="Seals of forks and shocks lie between.",
            **kwargs,
        )

    def clean_section(self) -> Any:
        section_m = self.cleaned_data["section"]
        inside_m = self.cleaned_data.get("inside")
        if inside_m is not None and section_m is not None and section_m >= inside_m:
            raise forms.ValidationError(
                "The ring would be thicker than its hole: are the two swapped? The section is the rubber’s thickness."
            )
        return section_m

    def work_out(self) -> Answer:
        return o_ring_sum(
            inside_m=self.cleaned_data["inside"],
            section_m=self.cleaned_data["section"],
            write=self.write,
            groove=Groove(
                diameter_m=self.given("groove_diameter"),
                depth_m=self.given("depth"),
                width_m=self.given("width"),
                motion=self.given("motion") or "static",
                gland=self.given("gland") or "piston",
            ),
        )
