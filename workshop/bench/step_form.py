"""The form of one step: its readings, a note, and what makes a repeat harmless."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from django import forms

from diagnosis.declared import key_measuring
from diagnosis.layout_plans import BOLTS
from diagnosis.runs_readings import unit_of
from diagnosis.runs_state import StepState
from workshop.staff.models import Shop
from workshop.torque.models import BOLT_LABELS, TorqueTool
from workshop.work.judging import units_of
from workshop.work.sent import LONGEST_NOTE, READING_PREFIX, TOOL_PREFIX


class ReadingField(forms.CharField):
    """A value with a unit, kept as typed: the rule that stores it reads it."""

    def __init__(self, unit: str, *, is_required: bool = False, **kwargs: Any) -> None:
        super().__init__(max_length=60, required=False, **kwargs)
        self.unit = unit
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})
        if is_required:  # what the tablet asks for by itself while it is cut off
            self.widget.attrs["data-required"] = ""


class TickForm(forms.Form):
    """Readings of the step in the shop's units, a note, the version that was seen and the sender's id."""

    version = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    client_id = forms.UUIDField(widget=forms.HiddenInput(attrs={"data-client-id": "", "autocomplete": "off"}))
    above_maximum = forms.BooleanField(
        required=False, label="It was found above the maximum, and air has been let out below it since."
    )
    note = forms.CharField(
        required=False,
        max_length=LONGEST_NOTE,
        label="Note",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": "That is too long for a note (2,000 characters at most)."},
    )

    def __init__(
        self, state: StepState, shop: Shop, version: int, data: Any = None, *, tools: Iterable[TorqueTool] = ()
    ) -> None:
        super().__init__(
            data,
            initial={
                "version": version,
                "client_id": uuid.uuid4(),
                "note": state.tick.note if state.tick else "",
            },
            auto_id="step-%s",
        )
        self.state, self.may_be_as_found = state, False
        units = units_of(shop, state.step)
        for plan in state.step.readings:
            stored = state.readings.get(plan["key"])
            self.fields[READING_PREFIX + plan["key"]] = ReadingField(
                unit_of(plan, units),
                is_required=bool(plan.get("required")),
                label=plan["label"],
                help_text=plan.get("help") or "",
                initial=stored.typed if stored else "",
            )
        self._add_tools(tools)

    def _add_tools(self, tools: Iterable[TorqueTool]) -> None:
        """For each critical bolt that is tightened here, the torque tool it was done with."""
        if not self.state.step.bolts:
            return
        choices = [("", "no tool named"), *((str(tool.pk), str(tool)) for tool in tools)]
        for bolt in self.state.step.bolts:
            label = f"Torque tool, {BOLT_LABELS[bolt].lower()}"
            self.fields[TOOL_PREFIX + bolt] = forms.ChoiceField(choices=choices, required=False, label=label)

    @property
    def rows(self) -> list[tuple[forms.BoundField, forms.BoundField | None]]:
        """Each reading, and beside the torque of a critical bolt the choice of its tool."""
        readings = self.state.step.readings
        bolts = {key: bolt for bolt in self.state.step.bolts if (key := key_measuring(readings, BOLTS[bolt]))}
        return [
            (
                self[READING_PREFIX + plan["key"]],
                self[TOOL_PREFIX + bolts[plan["key"]]] if plan["key"] in bolts else None,
            )
            for plan in self.state.step.readings
        ]

    @property
    def readings(self) -> list[forms.BoundField]:
        return [self[READING_PREFIX + plan["key"]] for plan in self.state.step.readings]

    @property
    def asks_about_maximum(self) -> bool:
        """Only after a pressure above the maximum was typed."""
        return self.is_bound and (bool(self.data.get("above_maximum")) or self.may_be_as_found)

    def typed(self) -> dict[str, str]:
        """What was typed, by reading key; empty ones left out."""
        return {
            plan["key"]: text
            for plan in self.state.step.readings
            if (text := (self.data.get(READING_PREFIX + plan["key"]) or "").strip())
        }

    def refuse_readings(self, errors: dict[str, str], *, may_be_as_found: bool = False) -> None:
        """Put each reason beside its field; ask whether a pressure was found so, where that would take it."""
        self.may_be_as_found = may_be_as_found
        for key, reason in errors.items():
            name = READING_PREFIX + key
            self.add_error(name if name in self.fields else None, reason)

    def seen_now(self, version: int) -> None:
        """After a conflict: the version that is shown now, and an id that was not used yet."""
        self.data = {**dict(self.data.items()), "version": str(version), "client_id": str(uuid.uuid4())}
