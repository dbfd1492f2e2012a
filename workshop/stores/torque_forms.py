"""Forms of the torque tools, and of one bolt at the bench."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone

from specs.units import show
from workshop.staff.models import Shop
from workshop.torque.models import TorqueTool
from workshop.torque.tools import calibration_mark
from workshop.web.fields import quantity_field

_DATE = {"type": "date"}


class ToolForm(forms.Form):
    """What is written on a torque tool and on its certificate."""

    number = forms.CharField(
        label="Number", max_length=30, help_text="As written on the tool.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    name = forms.CharField(label="What it is", max_length=80, help_text="For example small setting wrench.")
    tool_class = forms.ChoiceField(
        label="Type and class", choices=TorqueTool.ToolClass.choices, initial=TorqueTool.ToolClass.SETTING,
        help_text="ISO 6789; stands on the tool or its certificate.",
    )  # fmt: skip
    calibrated_on = forms.DateField(
        label="Calibrated on", required=False, widget=forms.DateInput(attrs=_DATE, format="%Y-%m-%d")
    )
    calibrated_until = forms.DateField(
        label="Calibration holds until", required=False, widget=forms.DateInput(attrs=_DATE, format="%Y-%m-%d"),
        help_text="ISO 6789 takes 12 months or 5,000 cycles where the shop has no rule of its own.",
    )  # fmt: skip

    field_order = ["number", "name", "low_nm", "high_nm", "tool_class", "calibrated_on", "calibrated_until"]

    def __init__(self, shop: Shop, *args: Any, has_calibrations: bool = False, **kwargs: Any) -> None:
        """`has_calibrations`: their history says the days, so the form does not."""
        super().__init__(*args, **kwargs)
        if has_calibrations:
            del self.fields["calibrated_on"], self.fields["calibrated_until"]
        for name, label in (("low_nm", "Range from"), ("high_nm", "Range to")):
            self.fields[name] = quantity_field(
                shop, "torque", label=label, low_si=0.01, high_si=1000.0, why_range="Torque tools work between these."
            )
        self.order_fields(self.field_order)

    @classmethod
    def of(cls, shop: Shop, tool: TorqueTool, *, has_calibrations: bool = False) -> ToolForm:
        """The form with a stored tool in it."""
        initial = {name: getattr(tool, name) for name in cls.field_order}
        return cls(shop, initial=initial, has_calibrations=has_calibrations)

    def dates_of(self, tool: TorqueTool) -> dict[str, Any]:
        """The days of the tool's calibration as they stand, where the form does not ask them."""
        return {name: getattr(tool, name) for name in ("calibrated_on", "calibrated_until") if name not in self.fields}


class BoltForm(forms.Form):
    """What one bolt was tightened to, and with which tool."""

    client_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, shop: Shop, bolt: str, tools: Sequence[TorqueTool], sent: QueryDict | None = None) -> None:
        super().__init__(sent, auto_id=f"bolt-{bolt}-%s", initial={"client_id": uuid.uuid4()})
        self.tools = {str(tool.pk): tool for tool in tools}
        unit = shop.unit_for("torque")
        self.fields["torque"] = quantity_field(shop, "torque", label="Set to")
        self.fields["tool"] = forms.ChoiceField(
            label="Tool",
            required=False,
            choices=[("", "not named"), *((pk, _words(t, unit)) for pk, t in self.tools.items())],
        )
        self.fields["reason"] = forms.CharField(label="Why it is so all the same", required=False, max_length=400)
        self.is_doubted = False

    @property
    def asks_reason(self) -> bool:
        """Only after something spoke against the record."""
        return self.is_doubted or bool(self.is_bound and self.data.get("reason"))

    @property
    def typed(self) -> str:
        """The torque as it was typed."""
        return str(self.data.get("torque", ""))

    @property
    def tool(self) -> TorqueTool | None:
        """The chosen tool."""
        return self.tools.get(self.cleaned_data.get("tool") or "")


def _words(tool: TorqueTool, unit: str) -> str:
    reach = f"{show(tool.low_nm, 'torque', unit)} to {show(tool.high_nm, 'torque', unit)}"
    doubt = ""
    if calibration_mark(tool, timezone.localdate()):
        doubt = " – calibration overdue" if tool.calibrated_until else " – no calibration on record"
    if tool.outside_by:
        doubt += " – outside its class"
    return f"{tool.number} {tool.name}, {reach}{doubt}"
