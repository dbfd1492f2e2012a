"""Forms whose fields are named for their paths in the file layout, and judged by the readers of the files.

A field such as "answers.found.says" holds what a file has under answers, found, says. Rows of a list carry their place
in the form: "do.2.text". Blank rows are left out, so a place in the list is turned back into the row it came from.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.forms.utils import ErrorDict
from django.http import QueryDict

from diagnosis.layout import LayoutError
from specs.facts import FACTS, FactValue
from specs.numbers import TWO_READINGS, NumberRefused, read_number
from workshop.web.converters import key_from

MOST_ROWS = 60
_AS_TEXT = {True: "true", False: "false"}


class LayoutForm(forms.Form):
    """Base of the forms that write a part of a draft."""

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=1)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows: dict[str, list[int]] = {}

    def row_places(self, name: str, stored: int, spare: int) -> range:
        """Places of the rows of a list: those sent, or those stored and some to fill in."""
        if not self.is_bound:
            return range(min(stored + spare, MOST_ROWS))
        start = f"{name}."
        sent = [key[len(start) :].split(".")[0] for key in self.data if key.startswith(start)]
        last = max((place for place in map(key_from, sent) if place is not None), default=-1)
        return range(min(last + 1, MOST_ROWS))

    def text(self, name: str) -> str:
        return str(self.cleaned_data.get(name) or "")

    def number(self, name: str) -> Any:
        """A number as people type it; what is none is left for the reader to refuse, what could be two is asked."""
        typed = self.text(name)
        try:
            value = float(read_number(typed, decimals=3))
        except NumberRefused as refused:
            if refused.code == TWO_READINGS:
                self.add_error(name, str(refused))
            return typed or None
        return int(value) if value.is_integer() and abs(value) < 1e15 else value

    def texts(self, name: str) -> list[str]:
        """One a line, as a text box divides them; other signs that end a line may stand in a text."""
        return [line.strip() for line in re.split(r"\r\n|\r|\n", self.text(name)) if line.strip()]

    def condition(self, name: str) -> dict[str, list[FactValue]]:
        """The ticked facts as the layout has them."""
        wanted: dict[str, list[FactValue]] = {}
        for chosen in self.cleaned_data.get(name) or []:
            fact, _, value = str(chosen).partition("=")
            wanted.setdefault(fact, []).append(next(one for one in FACTS[fact].values if fact_value(one) == value))
        return wanted

    def read_all(self, read: Callable[[], object]) -> None:
        """Put every reason of the reader beside its field."""
        try:
            read()
        except LayoutError as error:
            for problem in error.all:
                self.refuse(problem)

    def refuse(self, error: LayoutError) -> None:
        """A reason beside the field it is about, or above the form."""
        name = self.field_of(error.field)
        said = error.beside[:1].upper() + error.beside[1:]
        if name is None or said not in [str(one) for one in self.errors.get(name, [])]:
            self.add_error(name, said)

    def field_of(self, path: str) -> str | None:
        """The form's field for a path of the layout; None if there is none."""
        parts = path.split(".")
        for depth in range(1, len(parts)):
            rows = self.rows.get(".".join(parts[:depth]))
            if rows is not None and parts[depth].isdigit() and int(parts[depth]) < len(rows):
                parts[depth] = str(rows[int(parts[depth])])
        for end in range(len(parts), 0, -1):
            name = ".".join(parts[:end])
            for candidate in (name, f"{name}.text", f"{name}.title", f"{name}.says"):
                if candidate in self.fields:
                    return candidate
        return None

    def leave_unjudged(self) -> None:
        """Show what was sent without a word on it: it is judged when it is to be saved."""
        self._errors = ErrorDict()
        self.cleaned_data = {}

    def put_in_place_of(self, version: int) -> None:
        """After a conflict: the next send replaces what is stored now."""
        self.data = seen_now(self.data, version)


def seen_now(data: Any, version: int) -> QueryDict:
    """What was sent, as if that version had been seen; ticked boxes and all."""
    changed: QueryDict = data.copy()
    changed["seen"] = str(version)
    return changed


def fact_value(value: FactValue) -> str:
    return _AS_TEXT[value] if isinstance(value, bool) else value


def fact_choices() -> list[tuple[str, str]]:
    """Every value of every fact, such as ("foot_fastener=bolt", "Foot fasteners: bolts")."""
    return [
        (f"{fact.key}={fact_value(value)}", f"{fact.label}: {words}")
        for fact in FACTS.values()
        for value, words in fact.values.items()
    ]


def ticked(condition: Mapping[str, Any]) -> list[str]:
    """A condition of the layout as the boxes to tick."""
    return [
        f"{fact}={fact_value(value)}"
        for fact, values in condition.items()
        for value in (values if isinstance(values, list | tuple) else [values])
    ]


def line_field(label: str, *, help_text: str = "", **attrs: str) -> forms.CharField:
    """One line of text; the readers say whether it may be empty."""
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, required=False, help_text=help_text, max_length=4000, widget=widget)


def layout_number_field(label: str, *, help_text: str = "") -> forms.CharField:
    return line_field(label, help_text=help_text, inputmode="decimal")


def lines_field(label: str, *, help_text: str = "One a line.", rows: int = 3) -> forms.CharField:
    """Several texts, or one long one."""
    widget = forms.Textarea(attrs={"rows": rows})
    return forms.CharField(label=label, required=False, help_text=help_text, max_length=20_000, widget=widget)


def boxes_field(label: str, choices: list[tuple[str, str]], *, help_text: str = "") -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label, choices=choices, required=False, help_text=help_text, widget=forms.CheckboxSelectMultiple
    )


def choice_field(label: str, choices: list[tuple[str, str]], *, help_text: str = "") -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False, help_text=help_text)
