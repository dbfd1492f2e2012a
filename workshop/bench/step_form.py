"""The form of one step: its readings, a note, and what makes a repeat harmless."""

from __future__ import annotations

import json
import uuid
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from diagnosis.declared import ASSUMED_UNLESS_READ, asked_on
from diagnosis.judging import NOTHING, Yardstick
from diagnosis.layout_plans import BOLTS
from diagnosis.models import Reading
from diagnosis.reading_kinds import options_of
from diagnosis.runs_readings import LONGEST_REASON, unit_of
from diagnosis.runs_state import StepState
from specs.facts import with_side
from specs.typed_measures import beside_unit, factors_beside
from specs.units import from_si, number_text, show
from workshop.staff.models import Shop
from workshop.torque.models import BOLT_LABELS, TorqueTool
from workshop.work.sent import LONGEST_NOTE, READING_PREFIX, REASON_PREFIX, TOOL_PREFIX, WAIT
from workshop.work.yardsticks import bolt_readings, units_of

NOT_READ = "not read"


class ReadingField(forms.CharField):
    """A value with a unit, kept as typed: the rule that stores it reads it."""

    def __init__(
        self,
        unit: str,
        *,
        is_required: bool = False,
        as_shown: str = "",
        span: tuple[float, float] | None = None,
        factors: Mapping[str, float] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(max_length=60, required=False, **kwargs)
        self.unit, self.as_shown = unit, as_shown
        if span is not None:  # what the tablet compares by itself, in the unit of the field
            self.widget.attrs.update({"data-low": f"{span[0]:.6g}", "data-high": f"{span[1]:.6g}"})
            self.widget.attrs["data-factors"] = json.dumps({unit: round(of, 9) for unit, of in (factors or {}).items()})
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})
        if is_required:  # what the tablet asks for by itself while it is cut off
            self.widget.attrs["data-required"] = ""

    def prepare_value(self, value: Any) -> Any:
        """What was typed, without the unit that stands beside it."""
        return beside_unit(value, self.unit) if isinstance(value, str) else value

    @property
    def as_shown_number(self) -> str:
        """What one tap enters: the unit stands beside the field."""
        return beside_unit(self.as_shown, self.unit)


class WordField(forms.ChoiceField):
    """A reading that is one of a few words, each a tap. One that must be read stands on none of them at first."""

    def __init__(self, plan: Mapping[str, Any], stored: Reading | None) -> None:
        is_required = bool(plan.get("required"))
        choices = [*([] if is_required else [("", NOT_READ)]), *((option, option) for option in options_of(plan))]
        super().__init__(
            choices=choices,
            required=False,
            widget=forms.RadioSelect(attrs={"data-required": ""} if is_required else {}),
            label=plan["label"],
            help_text=plan.get("help") or "",
            initial=stored.typed if stored else "",
        )

    def valid_value(self, value: Any) -> bool:
        """Kept as it was sent: the rule that stores it judges it."""
        return True


@dataclass(frozen=True)
class ReadingRow:
    """A reading, the choice of its tool, why it is outside, and whether that is asked for now."""

    key: str
    reading: forms.BoundField
    tool: forms.BoundField | None
    reason: forms.BoundField | None
    asks_reason: bool


class TickForm(forms.Form):
    """Readings of the step in the shop's units, a note, the version that was seen and the sender's id."""

    version = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    client_id = forms.UUIDField(widget=forms.HiddenInput(attrs={"data-client-id": "", "autocomplete": "off"}))
    above_maximum = forms.BooleanField(
        required=False, label="It was found above the maximum, and air has been let out below it since."
    )
    said = forms.IntegerField(min_value=0, required=False, widget=forms.HiddenInput)
    note = forms.CharField(
        required=False,
        max_length=LONGEST_NOTE,
        label="Note",
        widget=forms.Textarea(attrs={"rows": 2, "form": "step-form"}),  # it stands folded, outside the form
        error_messages={"max_length": "That is too long for a note (2,000 characters at most)."},
    )

    def __init__(
        self,
        state: StepState,
        shop: Shop,
        version: int,
        data: Any = None,
        *,
        tools: Iterable[TorqueTool] = (),
        held_against: Mapping[str, Yardstick] | None = None,
        said: int = 0,
    ) -> None:
        super().__init__(
            data,
            initial={
                "version": version,
                "client_id": uuid.uuid4(),
                "said": said,
                "note": state.tick.note if state.tick else "",
            },
            auto_id="step-%s",
        )
        self.state, self.may_be_as_found = state, False
        self.held_against: Mapping[str, Yardstick] = held_against or {}
        self.want_reasons: frozenset[str] = frozenset()
        units = units_of(shop, state.step)
        self.plans = [plan for plan in state.step.readings if asked_on(plan, state.facts)]
        for plan in self.plans:
            if options_of(plan):
                self.fields[READING_PREFIX + plan["key"]] = WordField(plan, state.readings.get(plan["key"]))
                continue
            stored = state.readings.get(plan["key"])
            unit = unit_of(plan, units)
            self.fields[READING_PREFIX + plan["key"]] = ReadingField(
                unit,
                is_required=bool(plan.get("required")),
                as_shown=self._as_shown(plan, unit),
                span=self._span(plan, unit),
                factors=self._factors(plan, unit),
                label=self._sided(plan),
                help_text=plan.get("help") or "",
                initial=beside_unit(stored.typed, unit) if stored else "",
            )
            if plan["key"] in self.held_against:
                self.fields[REASON_PREFIX + plan["key"]] = forms.CharField(
                    label=f"{self._sided(plan)}: why it is so all the same",
                    help_text=self._meant(plan, unit),
                    required=False,
                    max_length=LONGEST_REASON,
                    initial=stored.reason if stored else "",
                )
        self._add_tools(tools)
        self.asks_about_wait = False
        self.fields[REASON_PREFIX + WAIT] = forms.CharField(
            label="Why the wait was left early", required=False, max_length=LONGEST_REASON
        )

    def _sided(self, plan: Mapping[str, Any]) -> str:
        return with_side(plan["label"], plan.get("wanted") or "", self.state.facts.get("air_side"))

    def _as_shown(self, plan: Mapping[str, Any], unit: str) -> str:
        """What one tap enters: the value that stands beside the field; nothing for what is measured."""
        yardstick = self.held_against.get(plan["key"], NOTHING)
        value = yardstick.wanted.value if yardstick.wanted is not None and yardstick.as_shown else None
        return "" if value is None else show(value, plan["quantity"], unit)

    def _span(self, plan: Mapping[str, Any], unit: str) -> tuple[float, float] | None:
        wanted = self.held_against.get(plan["key"], NOTHING).wanted
        if wanted is None:
            return None
        return from_si(wanted.low, plan["quantity"], unit), from_si(wanted.high, plan["quantity"], unit)

    def _factors(self, plan: Mapping[str, Any], unit: str) -> Mapping[str, float]:
        """What the tablet turns another unit into this field's by; a share only where the server takes one too."""
        whole = self.held_against.get(plan["key"], NOTHING).whole
        return factors_beside(plan["quantity"], unit, whole_si=whole)

    def _meant(self, plan: Mapping[str, Any], unit: str) -> str:
        """What a reading is to be, in words; empty where that is not known."""
        span = self._span(plan, unit)
        return f"It is to be {number_text(span[0], unit)} to {number_text(span[1], unit)} {unit}." if span else ""

    def _add_tools(self, tools: Iterable[TorqueTool]) -> None:
        """For each critical bolt that is tightened here, the torque tool it was done with."""
        if not self.state.step.bolts:
            return
        choices = [("", "no tool named"), *((str(tool.pk), str(tool)) for tool in tools)]
        for bolt in self.state.step.bolts:
            sided = with_side(BOLT_LABELS[bolt].lower(), BOLTS[bolt], self.state.facts.get("air_side"))
            label = f"Torque tool, {sided}"
            self.fields[TOOL_PREFIX + bolt] = forms.ChoiceField(choices=choices, required=False, label=label)

    @property
    def rows(self) -> list[ReadingRow]:
        """Each reading with its reason, and beside the torque of a safety-critical bolt the choice of its tool."""
        return self._rows([plan for plan in self.plans if plan.get("measures") not in ASSUMED_UNLESS_READ])

    @property
    def assumed_rows(self) -> list[ReadingRow]:
        """The readings that something usual is taken for until they are read: they stand folded."""
        return self._rows([plan for plan in self.plans if plan.get("measures") in ASSUMED_UNLESS_READ])

    @property
    def shows_assumed(self) -> bool:
        """Whether those stand open: one was read, or is refused."""
        return any(row.reading.errors or row.reading.value() for row in self.assumed_rows)

    def _rows(self, plans: Iterable[Mapping[str, Any]]) -> list[ReadingRow]:
        bolts = {key: bolt for bolt, key in bolt_readings(self.state.step).items()}
        return [
            ReadingRow(
                key,
                self[READING_PREFIX + key],
                self[TOOL_PREFIX + bolts[key]] if key in bolts else None,
                self[REASON_PREFIX + key] if REASON_PREFIX + key in self.fields else None,
                self._asks_reason(key),
            )
            for key in (plan["key"] for plan in plans)
        ]

    def _asks_reason(self, key: str) -> bool:
        """Where a reading was refused until somebody says why, or somebody did."""
        stored = self.state.readings.get(key)
        return key in self.want_reasons or bool(
            self.data.get(REASON_PREFIX + key) if self.is_bound else stored and stored.reason
        )

    @property
    def readings(self) -> list[forms.BoundField]:
        return [self[READING_PREFIX + plan["key"]] for plan in self.plans]

    @property
    def wait_reason(self) -> forms.BoundField | None:
        """Only after an answer was sent before its wait was over."""
        name = REASON_PREFIX + WAIT
        return self[name] if self.asks_about_wait or (self.is_bound and self.data.get(name)) else None

    @property
    def asks_about_maximum(self) -> bool:
        """Only after a pressure above the maximum was typed."""
        return self.is_bound and (bool(self.data.get("above_maximum")) or self.may_be_as_found)

    def typed(self) -> dict[str, str]:
        """What was typed, by reading key; empty ones left out."""
        return {
            plan["key"]: text
            for plan in self.plans
            if (text := (self.data.get(READING_PREFIX + plan["key"]) or "").strip())
        }

    def refuse_readings(
        self, errors: Mapping[str, str], *, may_be_as_found: bool = False, want_reasons: Collection[str] = ()
    ) -> None:
        """Put each refusal beside its field; ask why it is so, or whether a pressure was found so, where that helps."""
        self.may_be_as_found, self.want_reasons = may_be_as_found, frozenset(want_reasons)
        for key, reason in errors.items():
            name = READING_PREFIX + key
            self.add_error(name if name in self.fields else None, reason)

    def told_now(self, said: int) -> None:
        """After it was said what had been told of the unit: that is seen now."""
        self.data = {**dict(self.data.items()), "said": str(said)}

    def seen_now(self, version: int) -> None:
        """After a conflict: the version that is shown now, and an id that was not used yet."""
        self.data = {**dict(self.data.items()), "version": str(version), "client_id": str(uuid.uuid4())}
