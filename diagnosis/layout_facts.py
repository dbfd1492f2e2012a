"""A checklist adapted to the facts of one unit. An unknown fact (None or absent) makes a "maybe", never a guess."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from diagnosis.layout_plans import ChecklistPlan, LinePlan, StepPlan
from specs.facts import FactValue

Applies = Literal["yes", "no", "maybe"]
Facts = Mapping[str, FactValue | None]

# How a condition reads in front of a line: "If it has foot bolts: ...".
PHRASES: Mapping[str, Mapping[FactValue, str]] = {
    "kind": {"fork": "it is a fork", "shock": "it is a rear shock"},
    "spring_kind": {
        "air": "it has an air spring",
        "coil": "it has a coil spring",
        "air_coil": "its coil has air assist",
    },
    "air_side": {"left": "the spring side is left", "right": "the spring side is right"},
    "spring_retention": {
        "internal_circlip": "a circlip holds the spring",
        "wire_ring": "a wire ring holds the spring",
        "threaded_cap": "a threaded cap holds the spring",
    },
    "ramp_chamber": {True: "it has a ramp-up chamber", False: "it has no ramp-up chamber"},
    "crowns": {"single": "it has a single crown", "twin": "it has a twin crown"},
    "inverted": {True: "it is inverted", False: "it is not inverted"},
    "foot_fastener": {"bolt": "it has foot bolts", "nut": "it has foot nuts"},
    "crush_washers": {True: "it has crush washers", False: "it has no crush washers"},
    "bleed_buttons": {True: "it has bleed buttons", False: "it has no bleed buttons"},
    "foam_rings": {True: "it has foam rings", False: "it has no foam rings"},
    "self_equalising": {True: "the chambers equalise by themselves", False: "each chamber has its own valve"},
    "damper_kind": {
        "sealed_cartridge": "the damper is a sealed cartridge",
        "open_bath": "the damper is an open bath",
        "closed_bladder": "the damper is closed with a bladder",
    },
    "reservoir": {
        "inline": "it is an inline shock",
        "piggyback": "it has a piggyback",
        "hose": "its reservoir is on a hose",
    },
    "remote": {"none": "it has no remote", "cable": "a cable works its remote", "hose": "a hose works its remote"},
    "gas_charge": {True: "the damper holds gas", False: "the damper holds no gas"},
}


class AdaptableStep(Protocol):
    """A StepPlan, or a record that holds the same two fields as plain JSON data."""

    @property
    def only_if(self) -> Mapping[str, Any]: ...
    @property
    def do(self) -> Sequence[Any]: ...


@dataclass(frozen=True)
class DoLine:
    """A line to show. `condition` is "" when it surely applies, else words such as "If it has foot bolts"."""

    text: str
    condition: str = ""


def applies(step: AdaptableStep, facts: Facts) -> Applies:
    """Whether a step is to be done on a unit with these facts."""
    return fits(step.only_if, facts)


def condition_of(step: AdaptableStep, facts: Facts) -> str:
    """What makes the step a "maybe", in words such as "If it has foam rings"; "" when it is not one."""
    return _in_words(step.only_if, facts) if applies(step, facts) == "maybe" else ""


def lines_for(step: AdaptableStep, facts: Facts) -> tuple[DoLine, ...]:
    """The lines to show for a unit with these facts; lines for another kind of unit are left out."""
    lines = []
    for item in step.do:
        text, when = _text_and_condition(item)
        fit = fits(when, facts)
        if fit != "no":
            lines.append(DoLine(text=text, condition=_in_words(when, facts) if fit == "maybe" else ""))
    return tuple(lines)


def steps_for(plan: ChecklistPlan, facts: Facts) -> tuple[StepPlan, ...]:
    """The steps that apply, or may, in handbook order."""
    return tuple(step for step in plan.steps if applies(step, facts) != "no")


def _text_and_condition(item: Any) -> tuple[str, Mapping[str, Any]]:
    if isinstance(item, LinePlan):
        return item.text, item.when
    if isinstance(item, Mapping):
        return str(item["text"]), item["when"]
    return str(item), {}


def condition_of_line(item: Any) -> Mapping[str, Any]:
    """On which units a line of a step is to be done; empty fits everything."""
    return _text_and_condition(item)[1]


def fits(condition: Mapping[str, Any], facts: Facts) -> Applies:
    """Whether a condition fits a unit with these facts."""
    known = [facts[fact] in _values(wanted) for fact, wanted in condition.items() if facts.get(fact) is not None]
    if not all(known):
        return "no"
    return "yes" if len(known) == len(condition) else "maybe"


def _values(wanted: Any) -> tuple[FactValue, ...]:
    return tuple(wanted) if isinstance(wanted, list | tuple) else (wanted,)


def facts_in_words(condition: Mapping[str, Any]) -> str:
    """A condition as it reads in front of a line, such as "If it has foot bolts"; "" for one that fits everything."""
    if not condition:
        return ""
    phrases = {fact: [PHRASES[fact][value] for value in _values(wanted)] for fact, wanted in condition.items()}
    return "If " + _joined((_joined(each, "or") for each in phrases.values()), "and")


def _in_words(condition: Mapping[str, Any], facts: Facts) -> str:
    return facts_in_words({fact: wanted for fact, wanted in condition.items() if facts.get(fact) is None})


def _joined(parts: Iterable[str], word: str) -> str:
    return f" {word} ".join(parts)
