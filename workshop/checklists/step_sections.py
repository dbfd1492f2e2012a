"""The sections of a step's form: which are folded, which are open for an error, and what each holds in a few words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workshop.checklists.step_form import StepForm

_SECTION_OF: Mapping[str, str] = {
    **dict.fromkeys(("title", "minutes", "do"), "do"),
    **dict.fromkeys(("look_for", "counts_as_found", "tools", "consumables"), "look"),
    **dict.fromkeys(("shows", "readings", "timer"), "readings"),
    "answers": "answers",
    **dict.fromkeys(("cautions", "bolts"), "care"),
    **dict.fromkeys(("needs", "only_if", "requires", "opens", "proves"), "when"),
    "ends_search": "chances",
}
REST = "rest"


@dataclass(frozen=True)
class StepSection:
    """One section of the form; `said` is what it holds, for the line that opens it."""

    is_open: bool
    said: str = ""


def section_of(name: str) -> str:
    """The section in which a field stands, by the field's name."""
    return _SECTION_OF.get(name.partition(".")[0], REST)


def sections_of(form: StepForm, opened: str = "") -> dict[str, StepSection]:
    """Every section by its key. What is changed most is open, and so is what has an error; `opened` was asked for."""
    open_now = {"do", opened, *(section_of(name) for name in form.errors)}
    said = {
        "do": "",
        "look": _listed(
            _many(_lines(form, "look_for"), "thing to look for", "things to look for"),
            "what counts as found" if form["counts_as_found"].value() else "",
            _many(_lines(form, "tools"), "tool", "tools"),
            _many(_lines(form, "consumables"), "thing to take", "things to take"),
        ),
        "readings": _listed(
            _many(sum(bool(row.label) for row in form.reading_rows), "reading", "readings"),
            f"timer of {form['timer.minutes'].value()} min" if form["timer.minutes"].value() else "",
            _many(len(form["shows"].value() or ()), "value beside it", "values beside it"),
        ),
        "answers": _listed(*(str(group["words"]) for group in form.answer_groups)),
        "care": _listed(
            _many(len(form["cautions"].value() or ()), "caution", "cautions"),
            _many(len(form["bolts"].value() or ()), "bolt", "bolts"),
        ),
        "when": _listed(
            _many(len(form["needs"].value() or ()), "step before it", "steps before it"),
            "only some units" if form["only_if"].value() else "",
            "a state it requires" if form["requires"].value() else "",
            "what it opens" if form["opens"].value() else "",
        ),
        "chances": _many(sum(field.value() not in (None, "") for field in form.chance_fields), "cause", "causes"),
        REST: _listed(str(form["skill"].value() or ""), "safety step" if form["safety"].value() else ""),
    }
    return {key: StepSection(key in open_now, words) for key, words in said.items()}


def _lines(form: StepForm, name: str) -> int:
    return sum(bool(line.strip()) for line in str(form[name].value() or "").splitlines())


def _many(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}" if count else ""


def _listed(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
