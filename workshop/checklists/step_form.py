"""The form of one step of a draft: every field of the layout, with lists to pick from."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.text import slugify

from diagnosis.comparing import OUTCOME_WORDS
from diagnosis.declared import LIVES, MEASURES, PORT_TRIES, SERVICES
from diagnosis.layout import CautionPlan, ChecklistPlan
from diagnosis.layout_fields import Fields
from diagnosis.layout_plans import BOLTS, CHECK, FINDINGS, MOVES, PROOF, SKILLS, WORK, outcomes_of
from diagnosis.layout_reading import READING_QUANTITIES, read_step
from diagnosis.reading_kinds import WORD_KINDS, kind_words
from diagnosis.runs_rules import FOUND
from diagnosis.unit_parts import PARTS, condition_words, leave_words, require_words
from diagnosis.unit_state import UNSURE
from diagnosis.wanted import MOST, WANTED
from specs.models import Part
from specs.quantities import QUANTITIES
from specs.units import DIMENSIONS
from workshop.checklists.drafting import free_key
from workshop.checklists.layout_form import (
    LayoutForm,
    boxes_field,
    choice_field,
    fact_choices,
    layout_number_field,
    line_field,
    lines_field,
    ticked,
)
from workshop.torque.models import BOLT_LABELS

ADAPTS = "Nothing ticked: on every unit. Two of one kind: either will do. Of different kinds: all must be so."
NEEDED: Mapping[str, tuple[str, ...]] = {CHECK: ("found", "ruled_out"), PROOF: ("proved", "not_proved")}
_WANTED = [("", "compared with nothing"), *((key, wanted.label) for key, wanted in WANTED.items())]
_MOST = [("", "no maximum but the unit’s own"), *((key, QUANTITIES[key].label) for key in MOST)]
_SAID = ("cause", "finding", "next", "says", "cure", "escalate", "call_customer")
_PLAIN = ("title", "counts_as_found", "for_customer")
_LISTS = ("look_for", "tools", "consumables")
_PICKED = ("cautions", "needs", "shows", "bolts", "opens", "proves", "services", "renews", "replaces")
_CHOSEN = ("closed_by", "frees_port")


@dataclass(frozen=True)
class StateField:
    """Boxes of conditions, a row for each part, and what is ticked in words."""

    field: forms.BoundField

    @property
    def rows(self) -> list[tuple[str, list[tuple[Any, str]]]]:
        """Each part with its boxes and their words."""
        rows: dict[str, list[tuple[Any, str]]] = {}
        for box in self.field.subwidgets:
            shown = condition_words(str(box.data["value"]))
            rows.setdefault(shown.part.key, []).append((box, shown.words))
        return [(PARTS[key].label, boxes) for key, boxes in rows.items()]

    @property
    def said(self) -> str:
        """What is ticked, in words."""
        chosen = set(self.field.value() or ())
        choices: Any = self.field.field.choices  # type: ignore[attr-defined]
        ticked = [condition_words(key) for key, _ in choices if key in chosen]
        return "; ".join(shown.whole if shown.of_any_part else shown.words for shown in ticked)


@dataclass(frozen=True)
class ReadingFields:
    """The fields of one reading; the last row is empty, for another."""

    fields: list[forms.BoundField]

    @property
    def label(self) -> str:
        return str(self.fields[1].value() or "")

    @property
    def has_errors(self) -> bool:
        return any(field.errors for field in self.fields)


class StepForm(LayoutForm):
    """A step as a file has it. `kind` and key are chosen when it is added and stay."""

    title = line_field("Title", help_text="What the mechanic sees in the list. Short, as an order: “Bleed the legs”.")
    minutes = layout_number_field("Usual minutes")
    skill = choice_field("Who can do it", [(skill, skill) for skill in SKILLS])
    moves = choice_field(
        "How it loads the bike",
        [("", "not at all, or by hand"), *MOVES.items()],
        help_text="Then wheel, axle and brake must be in place: “How the unit must be first” has to say so.",
    )
    safety = forms.BooleanField(
        label="Safety step", required=False, help_text="It keeps its place whatever order is suggested."
    )
    spring_answer = forms.BooleanField(
        label="Show the air spring’s whole answer here",
        required=False,
        help_text="Where the readings decide what to do next. Elsewhere only its headline stands.",
    )
    on_finding = forms.BooleanField(
        label="Only after a finding",
        required=False,
        help_text="Suggested, and counted in the minutes, only where something was found that names it as its repair.",
    )
    look_for = lines_field("Look, listen or feel for")
    counts_as_found = lines_field("What counts as found", help_text="When the mechanic may press “Found”.", rows=2)
    for_customer = lines_field("To the customer", help_text="One plain sentence for the report.", rows=2)
    tools = lines_field("Tools", rows=2)
    consumables = lines_field("Take", help_text="What is used up. One a line.", rows=2)

    def __init__(
        self,
        *args: Any,
        raw: Mapping[str, Any],
        plan: ChecklistPlan,
        cautions: Mapping[str, CautionPlan],
        lost: list[tuple[str, str]],
        taken: Set[str] = frozenset(),
        **kwargs: Any,
    ) -> None:
        """`lost` are steps of the version in use that need a replacement; `taken` are keys a new step may not get."""
        super().__init__(*args, **kwargs)
        self.raw_before, self.plan, self.cautions, self.taken = raw, plan, cautions, set(taken)
        self.kind: str = raw["kind"]
        self.outcomes = outcomes_of(self.kind, raw.get("answers"))
        self._add_lines(raw)
        self._add_picks(raw, lost)
        self._add_declared(raw)
        self._add_readings(raw)
        self._add_chances(raw)
        self._add_answers(raw)
        for name in (*_PLAIN, "minutes", "skill", "moves", "safety", "spring_answer", "on_finding"):
            self.initial[name] = shown_value(raw.get(name, ""))
        for name in _LISTS:
            self.initial[name] = "\n".join(raw.get(name, []))
        if self.kind != WORK:
            del self.fields["on_finding"]
        if self.kind != CHECK:
            self.fields["counts_as_found"].help_text = "Only of use to a check."

    def _add(self, name: str, field: forms.Field, initial: Any) -> None:
        self.fields[name] = field
        self.initial[name] = initial

    def _add_lines(self, raw: Mapping[str, Any]) -> None:
        lines = [line if isinstance(line, Mapping) else {"text": line} for line in raw.get("do", [])]
        for row in self.row_places("do", len(lines), 1):
            line = lines[row] if row < len(lines) else {}
            self._add(f"do.{row}.text", lines_field(f"Line {row + 1}", help_text="", rows=2), line.get("text", ""))
            label = f"Line {row + 1} only where"
            boxes = boxes_field(label, fact_choices(), help_text=ADAPTS)
            self._add(f"do.{row}.when", boxes, ticked(line.get("when", {})))
            self._add(f"do.{row}.place", layout_number_field(f"Place of line {row + 1}"), str(row + 1))

    def _add_picks(self, raw: Mapping[str, Any], lost: list[tuple[str, str]]) -> None:
        own = raw.get("key", "")
        keys = [step.key for step in self.plan.steps]
        here = keys.index(own) if own in keys else len(keys)
        before = [
            (step.key, f"{place + 1}. {step.title}" + ("" if place < here else " (comes later)"))
            for place, step in enumerate(self.plan.steps)
            if step.key != own
        ]
        help_text = "Steps that must be done before this one. Each must stand earlier in the list."
        self._add("needs", boxes_field("Comes after", before, help_text=help_text), raw.get("needs", []))
        self._add("only_if", boxes_field("Only on units with", fact_choices(), help_text=ADAPTS),
                  ticked(raw.get("only_if", {})))  # fmt: skip
        cautions = [(key, caution.title) for key, caution in self.cautions.items()]
        self._add("cautions", boxes_field("Cautions", cautions), raw.get("cautions", []))
        shows = [(key, quantity.label) for key, quantity in QUANTITIES.items()]
        help_text = "Shown beside the step with their source; a missing one as a blank."
        self._add("shows", boxes_field("This fork’s values", shows, help_text=help_text), raw.get("shows", []))
        bolts = [(bolt, BOLT_LABELS[bolt]) for bolt in BOLTS]
        self._add("bolts", boxes_field("Safety-critical bolts tightened here", bolts), raw.get("bolts", []))
        self._add_state(raw)
        timer = raw.get("timer") or {}
        self._add("timer.minutes", layout_number_field("Timer, minutes", help_text="Empty for none."),
                  shown_value(timer.get("minutes", "")))  # fmt: skip
        self._add("timer.label", line_field("What the timer waits for"), timer.get("label", ""))
        kept = [key for key in raw.get("replaces", []) if key not in dict(lost)]
        choices = [*lost, *((key, key) for key in kept)]
        if choices:
            help_text = "Safety or proof steps of the version in use whose place this step takes."
            self._add("replaces", boxes_field("Takes the place of", choices, help_text=help_text),
                      raw.get("replaces", []))  # fmt: skip

    def _add_state(self, raw: Mapping[str, Any]) -> None:
        """The state of the unit: what the step requires, opens on the way, and proves."""
        help_text = (
            "Two in one row: either will do. In several rows: all must be so. Where air must be out or something "
            "closed, the tablet refuses the step until it is; anything else is only suggested first."
        )
        label = "How the unit must be before this step"
        self._add("requires", boxes_field(label, require_words(), help_text=help_text),
                  ticked(raw.get("requires", {})))  # fmt: skip
        parts = [(part.key, part.label) for part in PARTS.values()]
        help_text = "Also what it closes again itself. Proofs of these parts have to be given again after it."
        self._add("opens", boxes_field("What this step opens", parts, help_text=help_text), raw.get("opens", []))
        if self.kind == PROOF or raw.get("proves"):
            help_text = "Once one of these is opened again, the proof counts no more and is asked for again."
            label = "What this proof shows to be good"
            self._add("proves", boxes_field(label, parts, help_text=help_text), raw.get("proves", []))

    def _add_declared(self, raw: Mapping[str, Any]) -> None:
        """What the app would not know of the step by itself: pairs, services, lives, the air spring's port."""
        if self.kind == WORK:
            others = [step for step in self.plan.steps if step.kind == WORK and step.key != raw.get("key", "")]
            steps = [("", "nothing: it takes nothing apart"), *((step.key, step.title) for step in others)]
            help_text = "Where this step takes something apart: the later step that puts it together again."
            self._add("closed_by", choice_field("Put together again by", steps, help_text=help_text),
                      raw.get("closed_by", ""))  # fmt: skip
            help_text = (
                "When every step of this checklist that is part of a service is done, the service is recorded at "
                "hand-back, and the next one is counted from that day."
            )
            self._add("services", boxes_field("Part of", list(SERVICES.items()), help_text=help_text),
                      raw.get("services", []))  # fmt: skip
            help_text = "Its life is counted anew from the day this step is done, until a cause says that it is worn."
            self._add("renews", boxes_field("Makes new", list(LIVES.items()), help_text=help_text),
                      raw.get("renews", []))  # fmt: skip
        if self.kind == CHECK:
            ways = [("", "no"), *PORT_TRIES.items()]
            help_text = "What the readings say of the air spring then stands at this step, and counts for its chances."
            self._add("frees_port", choice_field("Tries to free the port of an air spring", ways, help_text=help_text),
                      raw.get("frees_port", ""))  # fmt: skip

    def _add_readings(self, raw: Mapping[str, Any]) -> None:
        stored = raw.get("readings", [])
        units = list(dict.fromkeys(unit for key in READING_QUANTITIES for unit in DIMENSIONS[key].shown_units if unit))
        for row in self.row_places("readings", len(stored), 1):
            reading = stored[row] if row < len(stored) else {}
            name, key = f"readings.{row}", reading.get("key", "")
            self._add(f"{name}.key", forms.CharField(required=False, widget=forms.HiddenInput, max_length=60), key)
            self._add(f"{name}.label", line_field(f"Reading {row + 1}", help_text="Empty to leave it out."),
                      reading.get("label", ""))  # fmt: skip
            kinds = [("", "only noted"), *((one, measure.label) for one, measure in MEASURES.items())]
            self._add(f"{name}.measures", choice_field("It is", kinds), reading.get("measures", ""))
            quantities = [(one, kind_words(one)) for one in (*READING_QUANTITIES, *WORD_KINDS)]
            self._add(f"{name}.quantity", choice_field("What is read", quantities), reading.get("quantity", "length"))
            choices = "\n".join(reading.get("choices", []))
            help_text = "Where it is one of a list: one a line."
            self._add(f"{name}.choices", lines_field("Choices", help_text=help_text, rows=2), choices)
            unit_choices = [("", "none, a count or a word"), *((unit, unit) for unit in units)]
            help_text = "Used where a number is typed without one; the shop’s own unit is shown."
            self._add(
                f"{name}.unit", choice_field("Unit", unit_choices, help_text=help_text), reading.get("unit", "mm")
            )
            self._add(f"{name}.required", forms.BooleanField(label="Must be entered", required=False),
                      reading.get("required", False))  # fmt: skip
            self._add(f"{name}.low", line_field("Not below", help_text="With its unit, for example 0 mm."),
                      reading.get("low", ""))  # fmt: skip
            self._add(f"{name}.high", line_field("Not above"), reading.get("high", ""))
            self._add(f"{name}.help", line_field("Help line"), reading.get("help", ""))
            self._add(f"{name}.wanted", choice_field("It is to be", _WANTED), reading.get("wanted", ""))
            self._add(f"{name}.most", choice_field("Never above", _MOST), reading.get("most", ""))
            help_text = "As it came in: taken above that too, once somebody says it was found so."
            self._add(f"{name}.as_found", forms.BooleanField(label="A fact from before the work", required=False,
                      help_text=help_text), reading.get("as_found", False))  # fmt: skip

    def _add_chances(self, raw: Mapping[str, Any]) -> None:
        stored = raw.get("ends_search", {})
        for cause in self.plan.causes:
            self._add(
                f"ends_search.{cause.key}", layout_number_field(cause.title), shown_value(stored.get(cause.key, ""))
            )

    def _add_answers(self, raw: Mapping[str, Any]) -> None:
        causes = [("", "none named"), *((cause.key, cause.title) for cause in self.plan.causes)]
        steps = [("", "the next in order"), *((step.key, step.title) for step in self.plan.steps
                                              if step.key != raw.get("key"))]  # fmt: skip
        for outcome in self.outcomes:
            stored = raw.get("answers", {}).get(outcome, {})
            name = f"answers.{outcome}"
            if outcome == "found" or stored.get("cause"):
                help_text = "None named leaves the choice among the causes this step can find."
                self._add(f"{name}.cause", choice_field("The cause is", causes, help_text=help_text),
                          stored.get("cause") or "")  # fmt: skip
            if outcome == FOUND or stored.get("finding"):
                help_text = "It stands first when the mechanic presses “Found”. Only the cause ends the search."
                kinds = [("", "the cause, where this step can find one"), *FINDINGS.items()]
                self._add(f"{name}.finding", choice_field("Most likely it is", kinds, help_text=help_text),
                          stored.get("finding") or "")  # fmt: skip
            if outcome == FOUND or stored.get("repair"):
                self._add(f"{name}.repair", self._repair_field(raw), stored.get("repair", []))
            if outcome == "found" or stored.get("cure"):
                self._add(f"{name}.cure", lines_field("The repair", help_text="", rows=2), stored.get("cure", ""))
            self._add(f"{name}.says", lines_field("Why what follows is next", help_text="One sentence.", rows=2),
                      stored.get("says", ""))  # fmt: skip
            self._add(f"{name}.next", choice_field("It leads to", steps), stored.get("next") or "")
            call = lines_field("Call the customer and say", help_text="Empty for no call.", rows=2)
            self._add(f"{name}.call_customer", call, stored.get("call_customer") or "")
            self._add(f"{name}.escalate", choice_field("Pass it on to", [("", "nobody"), ("damper", "damper work")]),
                      stored.get("escalate") or "")  # fmt: skip
            help_text = "One in a row. A row without a tick: as it was before."
            if outcome in UNSURE:
                help_text += " But not known any more, where a sure answer of this step says how it leaves that part."
            label = "How the unit is after this answer"
            self._add(f"{name}.leaves", boxes_field(label, leave_words(), help_text=help_text),
                      ticked(stored.get("leaves", {})))  # fmt: skip
            self._add_parts(name, stored.get("parts", []))

    def _repair_field(self, raw: Mapping[str, Any]) -> forms.Field:
        """The steps that answer a finding."""
        mending = [
            (step.key, step.title) for step in self.plan.steps if step.kind != CHECK and step.key != raw.get("key")
        ]
        help_text = (
            "Work that mends it or the proof that it is good: all that are ticked, done after it. Nothing ticked: the "
            "work that mends the fault it leaves, the proof it leads to, or else one of its parts."
        )
        return boxes_field("It is answered by", mending, help_text=help_text)

    def _add_parts(self, name: str, stored: list[Mapping[str, Any]]) -> None:
        roles = dict(Part.Role.choices)
        for row in self.row_places(f"{name}.parts", len(stored), 1):
            part = stored[row] if row < len(stored) else {}
            role = part.get("role", "")
            named = {**roles, **({role: role.replace("_", " ").capitalize()} if role and role not in roles else {})}
            choices = [("", "no part"), *((str(key), str(words)) for key, words in named.items())]
            if self.is_bound and (sent := self.data.get(f"{name}.parts.{row}.role", "")) not in dict(choices):
                choices.append((sent, sent))  # another role of the file layout; the reader judges it
            self._add(f"{name}.parts.{row}.role", choice_field(f"Part {row + 1}", choices), role)
            self._add(
                f"{name}.parts.{row}.quantity", layout_number_field("How many"), shown_value(part.get("quantity", ""))
            )
            self._add(f"{name}.parts.{row}.note", line_field("Which"), part.get("note", ""))

    def raw(self) -> dict[str, Any]:
        """The step as a file would have it; empty fields left out."""
        step: dict[str, Any] = {"key": self.raw_before.get("key") or self._new_key(), "kind": self.kind}
        step |= {name: self.text(name) for name in _PLAIN}
        step |= {"minutes": self.number("minutes"), "skill": self.text("skill"), "safety": self.cleaned_data["safety"]}
        step |= {"moves": self.text("moves")} if self.text("moves") else {}
        step |= {name: self.texts(name) for name in _LISTS}
        step |= {name: self._picked(name) for name in _PICKED}
        step |= {name: self.text(name) for name in _CHOSEN}
        step["spring_answer"] = self.cleaned_data["spring_answer"]
        step |= {"on_finding": True} if self.cleaned_data.get("on_finding") else {}
        step |= {"do": self._lines(), "only_if": self.condition("only_if"), "readings": self._readings()}
        if self.text("timer.minutes") or self.text("timer.label"):
            step["timer"] = {"minutes": self.number("timer.minutes"), "label": self.text("timer.label")}
        step["requires"] = self._by_part("requires")
        chances = {cause.key: self.number(f"ends_search.{cause.key}") for cause in self.plan.causes}
        step["ends_search"] = {key: chance for key, chance in chances.items() if chance is not None}
        answers = {outcome: self._answer(outcome) for outcome in self.outcomes}
        step["answers"] = {
            outcome: answer for outcome, answer in answers.items() if answer or outcome in NEEDED.get(self.kind, ())
        }
        return {name: value for name, value in step.items() if value not in (None, "", [], {}) and value is not False}

    def _picked(self, name: str) -> list[str]:
        """What is ticked, in the order it had, then what is new: boxes stand in another order than a file's list."""
        chosen: list[str] = self.cleaned_data.get(name) or []
        before = [key for key in self.raw_before.get(name, []) if key in chosen]
        return before + [key for key in chosen if key not in before]

    def _new_key(self) -> str:
        return free_key(self.text("title"), self.taken | {step.key for step in self.plan.steps})

    def _lines(self) -> list[Any]:
        filled = [row for row in self.row_places("do", 0, 0) if self.text(f"do.{row}.text")]
        filled.sort(key=lambda row: self._place(row))
        self.rows["do"] = filled
        return [
            {"text": self.text(f"do.{row}.text"), "when": when}
            if (when := self.condition(f"do.{row}.when"))
            else self.text(f"do.{row}.text")
            for row in filled
        ]

    def _place(self, row: int) -> float:
        name = f"do.{row}.place"
        typed = self.number(name)
        if isinstance(typed, str) and name not in self.errors:
            self.add_error(name, "Enter a place as a number, for example 2.")
        return float(typed) if isinstance(typed, int | float) else row + 1.0

    def _readings(self) -> list[dict[str, Any]]:
        self.rows["readings"] = []
        found: list[dict[str, Any]] = []
        for row in self.row_places("readings", 0, 0):
            name = f"readings.{row}"
            if not self.text(f"{name}.label"):
                continue
            named = slugify(self.text(f"{name}.label")).replace("-", "_")[:60].strip("_")
            made = self.text(f"{name}.key") or named or "reading"
            self.rows["readings"].append(row)
            reading: dict[str, Any] = {"key": made} | {
                one: self.text(f"{name}.{one}")
                for one in ("label", "quantity", "unit", "low", "high", "help", "wanted", "most")
            }
            if reading["quantity"] == "count" or reading["quantity"] in WORD_KINDS:
                del reading["unit"]
            flags = {one: bool(self.cleaned_data.get(f"{name}.{one}")) for one in ("required", "as_found")}
            if choices := self.texts(f"{name}.choices"):
                reading["choices"] = choices
            if self.text(f"{name}.measures"):
                reading["measures"] = self.text(f"{name}.measures")
            found.append({**reading, **flags})
        return found

    def _answer(self, outcome: str) -> dict[str, Any]:
        name = f"answers.{outcome}"
        answer: dict[str, Any] = {one: self.text(f"{name}.{one}") for one in _SAID}
        ticked_now: list[str] = self.cleaned_data.get(f"{name}.repair") or []
        before = [key for key in self._answer_before(outcome).get("repair", []) if key in ticked_now]
        answer["repair"] = before + [key for key in ticked_now if key not in before]
        answer["leaves"] = {part: values[-1] for part, values in self._by_part(f"{name}.leaves").items()}
        rows = [row for row in self.row_places(f"{name}.parts", 0, 0) if self.text(f"{name}.parts.{row}.role")]
        self.rows[f"{name}.parts"] = rows
        answer["parts"] = [
            {
                "role": self.text(f"{name}.parts.{row}.role"),
                "quantity": self.number(f"{name}.parts.{row}.quantity"),
                "note": self.text(f"{name}.parts.{row}.note"),
            }
            for row in rows
        ]
        return {key: value for key, value in answer.items() if value not in ("", [], {})}

    def _answer_before(self, outcome: str) -> Mapping[str, Any]:
        before: Mapping[str, Any] = self.raw_before.get("answers", {}).get(outcome) or {}
        return before

    def _by_part(self, name: str) -> dict[str, list[str]]:
        """What is ticked of the unit's state, by part."""
        wanted: dict[str, list[str]] = {}
        for chosen in self.cleaned_data.get(name) or []:
            part, _, value = str(chosen).partition("=")
            wanted.setdefault(part, []).append(value)
        return wanted

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for outcome in self.outcomes:
            twice = [part for part, values in self._by_part(f"answers.{outcome}.leaves").items() if len(values) > 1]
            if twice:
                labels = ", ".join(PARTS[part].label.lower() for part in twice)
                self.add_error(f"answers.{outcome}.leaves", f"Choose one condition for each part: {labels}.")
        raw = self.raw()
        fields = Fields(raw, file=f"{self.plan.key}.yaml", step=raw["key"])
        self.read_all(lambda: read_step(fields, self.cautions))
        return cleaned

    # What the template lays out.

    @property
    def requires_by_part(self) -> StateField:
        return StateField(self["requires"])

    @property
    def what_follows(self) -> list[forms.BoundField]:
        """What the app would not know of the step by itself."""
        names = ("closed_by", "services", "renews", "frees_port", "spring_answer", "on_finding")
        return [self[name] for name in names if name in self.fields]

    @property
    def opens_said(self) -> str:
        return self._parts_said("opens")

    @property
    def proves_said(self) -> str:
        return self._parts_said("proves")

    def _parts_said(self, name: str) -> str:
        """The parts that are ticked, in words."""
        chosen = set(self[name].value() or ())
        return ", ".join(part.label.lower() for part in PARTS.values() if part.key in chosen)

    @property
    def line_rows(self) -> list[dict[str, forms.BoundField]]:
        rows = self.row_places("do", len(self.raw_before.get("do", [])), 1)
        return [{part: self[f"do.{row}.{part}"] for part in ("text", "when", "place")} for row in rows]

    @property
    def timer_fields(self) -> list[forms.BoundField]:
        return [self["timer.minutes"], self["timer.label"]]

    @property
    def reading_rows(self) -> list[ReadingFields]:
        rows = self.row_places("readings", len(self.raw_before.get("readings", [])), 1)
        parts = (
            "key",
            "label",
            "measures",
            "quantity",
            "choices",
            "unit",
            "low",
            "high",
            "help",
            "wanted",
            "most",
            "as_found",
            "required",
        )
        return [ReadingFields([self[f"readings.{row}.{part}"] for part in parts]) for row in rows]

    @property
    def chance_fields(self) -> list[forms.BoundField]:
        return [self[f"ends_search.{cause.key}"] for cause in self.plan.causes]

    @property
    def answer_groups(self) -> list[dict[str, Any]]:
        groups = []
        for outcome in self.outcomes:
            name, stored = f"answers.{outcome}", self.raw_before.get("answers", {}).get(outcome, {})
            order = ("finding", "cause", "says", "next", "cure", "repair", "call_customer", "escalate")
            left = f"{name}.leaves"
            rows = self.row_places(f"{name}.parts", len(stored.get("parts", [])), 1)
            groups.append({
                "words": OUTCOME_WORDS[outcome],
                "has_errors": any(field.startswith(f"{name}.") for field in self.errors),
                "is_needed": outcome in NEEDED.get(self.kind, ()),
                "leaves": StateField(self[left]),
                "fields": [self[f"{name}.{part}"] for part in order if f"{name}.{part}" in self.fields],
                "parts": [
                    [self[f"{name}.parts.{row}.{part}"] for part in ("role", "quantity", "note")] for row in rows
                ],
            })  # fmt: skip
        return groups


def shown_value(value: Any) -> Any:
    """A number as people write it: 6 rather than 6.0."""
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else f"{Decimal(repr(value)):f}"
    return value
