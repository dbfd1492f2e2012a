"""Forms of what stands above the steps: the complaint, the checklist's title, the causes; and a new complaint."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from diagnosis.declared import LIVES
from diagnosis.drafts import DraftData
from diagnosis.layout import read_checklist
from diagnosis.layout_fields import Fields
from diagnosis.models import Cause
from specs.facts import choices
from workshop.checklists.drafting import free_key
from workshop.checklists.layout_form import (
    LayoutForm,
    boxes_field,
    choice_field,
    layout_number_field,
    line_field,
    lines_field,
)
from workshop.checklists.step_form import shown_value

SAID = "What customers say, one a line. The counter’s suggestion listens for these words."


class NewComplaintForm(forms.Form):
    """A complaint that is not there yet. Its causes and steps follow in the draft."""

    title = forms.CharField(label="Complaint", max_length=80, help_text="In the trade’s words: “Creaks under load”.")
    suits = forms.MultipleChoiceField(
        label="For", choices=choices("kind"), widget=forms.CheckboxSelectMultiple, initial=["fork"]
    )
    symptoms = forms.CharField(
        label="In customers’ words", max_length=4000, help_text=SAID, widget=forms.Textarea(attrs={"rows": 4})
    )
    is_routine = forms.BooleanField(
        label="A routine service", required=False, help_text="Work to do, with no cause to look for."
    )

    def clean_symptoms(self) -> list[str]:
        return [line.strip() for line in self.cleaned_data["symptoms"].splitlines() if line.strip()]


class HeadForm(LayoutForm):
    """Complaint, checklist and causes of a draft, as the file layout has them."""

    def __init__(self, *args: Any, draft: DraftData, known: Mapping[str, Cause], **kwargs: Any) -> None:
        """`known` are the causes of the shop by key."""
        super().__init__(*args, **kwargs)
        self.draft, self.known = draft, known
        complaint, head = draft["complaint"], draft["checklist"]
        self._add("complaint.title", line_field("Complaint"), complaint["title"])
        self._add("complaint.suits", boxes_field("For", choices("kind")), complaint["suits"])
        self._add("complaint.symptoms", lines_field("In customers’ words", help_text=SAID, rows=6),
                  "\n".join(complaint["symptoms"]))  # fmt: skip
        self._add("checklist.title", line_field("Title of the checklist"), head["title"])
        self._add(
            "checklist.summary", lines_field("Summary", help_text="How it goes about it.", rows=2), head["summary"]
        )
        source = line_field("Where the chances and weights come from", help_text="Say so if nobody published them.")
        self._add("checklist.chances_source", source, head["chances_source"])
        if head["kind"] != "routine":
            self._add_causes(draft["causes"])

    def _add(self, name: str, field: forms.Field, initial: Any) -> None:
        self.fields[name] = field
        self.initial[name] = initial

    def _add_causes(self, stored: list[Mapping[str, Any]]) -> None:
        for row in self.row_places("causes", len(stored), 2):
            cause = stored[row] if row < len(stored) else {}
            name = f"causes.{row}"
            self._add(f"{name}.key", forms.CharField(required=False, widget=forms.HiddenInput), cause.get("key", ""))
            self._add(f"{name}.title", line_field(f"Cause {row + 1}", help_text="Empty to take it out."),
                      cause.get("title", ""))  # fmt: skip
            self._add(f"{name}.for_customer", lines_field("To the customer", help_text="One plain sentence.", rows=2),
                      cause.get("for_customer", ""))  # fmt: skip
            help_text = "Where this is found to be the cause, the life of these parts ends."
            self._add(f"{name}.ends_life", boxes_field("It says that these are worn", list(LIVES.items()),
                      help_text=help_text), list(cause.get("ends_life", [])))  # fmt: skip
            self._add(f"{name}.prior", layout_number_field("Weight", help_text="How often, against the other causes."),
                      shown_value(cause.get("prior", "")))  # fmt: skip
            if not cause:
                others = [("", "no: a new one"), *((key, one.title) for key, one in self.known.items())]
                self._add(f"{name}.known", choice_field("Or one the shop knows", others), "")

    def causes(self) -> list[dict[str, Any]]:
        """The rows that are filled in; a new cause gets a key of its own."""
        found: list[dict[str, Any]] = []
        self.rows["causes"] = []
        stored = {cause["key"] for cause in self.draft["causes"]}
        taken = stored | set(self.known)
        for row in self.row_places("causes", 0, 0):
            name = f"causes.{row}"
            title, words = self.text(f"{name}.title"), self.text(f"{name}.for_customer")
            key, chosen = self.text(f"{name}.key"), self.text(f"{name}.known")
            worn: list[str] = list(self.cleaned_data.get(f"{name}.ends_life") or [])
            if chosen in self.known:
                key, known = chosen, self.known[chosen]
                title, words, worn = title or known.title, words or known.for_customer, worn or list(known.ends_life)
            if not title:
                continue
            if key not in stored and not (key and key == chosen):
                key = free_key(title, taken)
            taken.add(key)
            self.rows["causes"].append(row)
            cause = {"key": key, "title": title, "for_customer": words, "prior": self.number(f"{name}.prior")}
            found.append(cause | ({"ends_life": worn} if worn else {}))
        return found

    def parts(self) -> dict[str, Any]:
        """What diagnosis.drafts.with_head takes."""
        return {
            "complaint": {
                "title": self.text("complaint.title"),
                "suits": list(self.cleaned_data.get("complaint.suits") or []),
                "symptoms": self.texts("complaint.symptoms"),
            },
            "head": {name: self.text(f"checklist.{name}") for name in ("title", "summary", "chances_source")},
            "causes": self.causes() if self.draft["checklist"]["kind"] != "routine" else [],
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        parts = self.parts()
        whole = {
            **self.draft,
            "complaint": {**self.draft["complaint"], **parts["complaint"]},
            "checklist": {**self.draft["checklist"], **parts["head"]},
            "causes": parts["causes"],
            "steps": [],
        }
        self.read_all(lambda: read_checklist(Fields(whole, file="draft"), {}))
        return cleaned

    @property
    def cause_rows(self) -> list[list[forms.BoundField]]:
        parts = ("key", "title", "prior", "for_customer", "ends_life", "known")
        rows = self.row_places("causes", len(self.draft["causes"]), 2)
        return [
            [self[name] for part in parts if (name := f"causes.{row}.{part}") in self.fields]
            for row in rows
            if f"causes.{row}.title" in self.fields
        ]
