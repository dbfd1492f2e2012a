"""From the fields of a checklist file to plans. What one record can know of itself is checked here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from diagnosis.layout_fields import Fields
from diagnosis.layout_plans import (
    BOLTS,
    CHECK,
    ESCALATIONS,
    OUTCOMES,
    PROOF,
    SKILLS,
    AnswerPlan,
    CausePlan,
    CautionPlan,
    ComplaintPlan,
    Condition,
    LinePlan,
    PartPlan,
    ReadingPlan,
    StepPlan,
    TimerPlan,
)
from diagnosis.unit_parts import AS_IT_CAME, CLOSED, PARTS, SAME, UNKNOWN
from diagnosis.wanted import MOST, WANTED
from specs.facts import FACTS
from specs.quantities import QUANTITIES
from specs.units import DIMENSIONS, UnitError, parse

_T = TypeVar("_T")

READING_QUANTITIES = (
    "pressure", "length", "torque", "volume", "clicks", "temperature", "mass", "angle", "force", "count",
)  # fmt: skip


def read_caution(key: str, fields: Fields) -> CautionPlan:
    """One caution of the cautions file."""
    caution = CautionPlan(key=key, title=fields.text("title", longest=80), text=fields.text("text"))
    fields.no_others()
    return caution


def read_complaint(fields: Fields) -> ComplaintPlan:
    """The complaint a checklist is for."""
    kinds = tuple(str(kind) for kind in FACTS["kind"].values)
    suits = fields.texts("suits", required=True)
    for kind in suits:
        if kind not in kinds:
            raise fields.refuse(f"suits {kind!r} is none of {', '.join(kinds)}")
    complaint = ComplaintPlan(
        key=fields.key("key"),
        title=fields.text("title", longest=80),
        suits=suits,
        symptoms=fields.texts("symptoms", required=True),
    )
    fields.no_others()
    return complaint


def read_cause(fields: Fields) -> CausePlan:
    """One cause with its prior weight, which is above zero."""
    cause = CausePlan(
        key=fields.key("key"),
        title=fields.text("title", longest=120),
        for_customer=fields.text("for_customer"),
        prior=fields.number("prior"),
    )
    if cause.prior == 0:
        raise fields.refuse(f"cause {cause.key!r} needs a prior above zero, or it could never be learned")
    fields.no_others()
    return cause


def read_step(fields: Fields, cautions: Mapping[str, CautionPlan], *, shared: bool = False) -> StepPlan:
    """One step. References to other steps and to causes are checked where the checklist is known."""
    kind = fields.choice("kind", tuple(OUTCOMES))
    step = StepPlan(
        key=fields.key("key"),
        kind=kind,
        title=fields.text("title", longest=80),
        do=tuple(_line(item, fields, place) for place, item in enumerate(fields.items("do", required=True))),
        look_for=fields.texts("look_for"),
        counts_as_found=fields.text("counts_as_found", required=kind == CHECK),
        minutes=fields.number("minutes"),
        skill=fields.choice("skill", SKILLS),
        tools=fields.texts("tools"),
        consumables=fields.texts("consumables"),
        cautions=tuple(_known("caution", key, cautions, fields) for key in fields.texts("cautions")),
        needs=fields.texts("needs"),
        safety=fields.flag("safety"),
        only_if=_condition(fields.group("only_if")),
        shows=fields.texts("shows"),
        readings=tuple(_reading(item) for item in fields.groups("readings")),
        timer=_timer(fields.group("timer")) if fields.has("timer") else None,
        bolts=fields.texts("bolts"),
        ends_search=_ends_search(fields.group("ends_search")),
        requires=_requires(fields.group("requires")),
        opens=fields.texts("opens"),
        proves=fields.texts("proves"),
        answers=_answers(kind, fields.group("answers", required=kind in (CHECK, PROOF))),
        for_customer=fields.text("for_customer"),
        replaces=fields.texts("replaces"),
        shared=shared,
    )
    fields.no_others()
    for key in step.shows:
        _known("spec quantity", key, QUANTITIES, fields, "shows")
    for bolt in step.bolts:
        _known("bolt", bolt, BOLTS, fields, "bolts")
    _once("reading", "readings", [reading.key for reading in step.readings], fields)
    for name in ("opens", "proves"):
        for part in getattr(step, name):
            _known("part", part, PARTS, fields, name)
    if step.proves and kind != PROOF:
        raise fields.refuse("only a proof proves anything", "proves")
    for name in ("needs", "shows", "bolts", "replaces", "opens", "proves"):
        _once(name, name, list(getattr(step, name)), fields)
    _once("cautions", "cautions", [caution.key for caution in step.cautions], fields)
    return step


def _known(what: str, key: str, known: Mapping[str, _T], fields: Fields, field: str | None = None) -> _T:
    if key not in known:
        raise fields.refuse(f"unknown {what} {key!r}", field)
    return known[key]


def _once(what: str, field: str, keys: list[str], fields: Fields) -> None:
    for place, key in enumerate(keys):
        if key in keys[:place]:
            where = f"readings.{place}.key" if field == "readings" else field
            raise fields.refuse(f"duplicate key {key!r} in {what}", where)


def _line(item: Any, fields: Fields, place: int) -> LinePlan:
    if isinstance(item, str) and item.strip():
        item = {"text": item}
    line = fields.within("do", item, place)
    if "when" not in line.raw:
        plan = LinePlan(text=line.text("text"))
        line.no_others()
        return plan
    plan = LinePlan(text=line.text("text"), when=_condition(line.group("when", required=True)))
    line.no_others()
    return plan


def _condition(fields: Fields) -> Condition:
    condition = {}
    for key, raw in fields.raw.items():
        fact = _known("fact", key, FACTS, fields)
        values = tuple(raw) if isinstance(raw, list | tuple) else (raw,)
        for value in values:
            # True == 1 in Python, so the type is compared as well.
            if not any(value == allowed and type(value) is type(allowed) for allowed in fact.values):
                raise fields.refuse(f"fact {key} has no value {value!r}")
        if not values:
            raise fields.refuse(f"fact {key} needs at least one value")
        # In the order of the registry, so that it does not matter how a file or a screen lists them.
        condition[key] = tuple(allowed for allowed in fact.values if allowed in values)
    return condition


def _reading(fields: Fields) -> ReadingPlan:
    quantity = fields.choice("quantity", READING_QUANTITIES)
    dimension = DIMENSIONS[quantity]
    reading = ReadingPlan(
        key=fields.key("key"),
        label=fields.text("label", longest=80),
        quantity=quantity,
        unit=fields.choice("unit", dimension.shown_units) if quantity != "count" else "",
        required=fields.flag("required", required=True),
        low=fields.text("low"),
        high=fields.text("high"),
        help=fields.text("help"),
        wanted=fields.text("wanted", required=False),
        most=fields.text("most", required=False),
        as_found=fields.flag("as_found"),
    )
    fields.has("unit")
    fields.no_others()
    _check_held_against(fields, reading)
    low, high = (_bound(fields, reading, name) for name in ("low", "high"))
    if low >= high:
        said = f"reading {reading.key}: low {reading.low} is not below high {reading.high}"
        raise fields.refuse(said, "high", beside=f"It must be more than {reading.low}.")
    return reading


def _check_held_against(fields: Fields, reading: ReadingPlan) -> None:
    """What it is compared with is known here, and of the same dimension."""
    known = {
        "wanted": {key: wanted.dimension for key, wanted in WANTED.items()},
        "most": dict(MOST),
    }
    for name, dimensions in known.items():
        key = getattr(reading, name)
        if key and key not in dimensions:
            said = f"reading {reading.key}: {name} {key!r} is none of {', '.join(sorted(dimensions))}"
            raise fields.refuse(said, name, beside="There is no such value to compare with.")
        if key and dimensions[key] != reading.quantity:
            said = f"reading {reading.key}: {name} {key!r} is a {dimensions[key]}, the reading a {reading.quantity}"
            raise fields.refuse(said, name, beside=f"That is a {dimensions[key]}, and this a {reading.quantity}.")


def _bound(fields: Fields, reading: ReadingPlan, name: str) -> float:
    try:
        return parse(getattr(reading, name), reading.quantity, reading.unit)
    except UnitError as error:
        raise fields.refuse(f"reading {reading.key}: {error}", name, beside=str(error)) from error


def _timer(fields: Fields) -> TimerPlan:
    timer = TimerPlan(minutes=fields.number("minutes"), label=fields.text("label", longest=80))
    fields.no_others()
    if timer.minutes == 0:
        raise fields.refuse("a timer needs more than 0 minutes", "minutes")
    return timer


def _ends_search(fields: Fields) -> dict[str, float]:
    chances = {}
    for cause, raw in fields.raw.items():
        if not isinstance(cause, str):
            raise fields.refuse(f"{cause!r} is no key of a cause")
        chance = fields.as_number(f"the chance for {cause!r}", raw, cause)
        if chance > 1:
            said = f"the chance for {cause!r} must be 0 to 1, not {raw!r}"
            raise fields.refuse(said, cause, beside="Enter a chance from 0 to 1, for example 0.3.")
        chances[cause] = chance
    return chances


def _requires(fields: Fields) -> dict[str, tuple[str, ...]]:
    """Part to the conditions that are allowed, in the order of the registry."""
    wanted = {}
    for part, raw in fields.raw.items():
        known = _known("part", str(part), PARTS, fields, str(part))
        allowed = (CLOSED, AS_IT_CAME, *known.values)
        values = tuple(raw) if isinstance(raw, list | tuple) else (raw,)
        if not values:
            raise fields.refuse(f"part {part} needs at least one condition", str(part))
        for value in values:
            if value not in allowed:
                raise fields.refuse(
                    f"part {part} is never required {value!r}; {', '.join(allowed)} are known", str(part)
                )
        wanted[str(part)] = tuple(value for value in allowed if value in values)
    return {part: wanted[part] for part in PARTS if part in wanted}


def _leaves(fields: Fields) -> dict[str, str]:
    """Part to the condition it is left in, in the order of the registry."""
    left = {}
    for part, value in fields.raw.items():
        known = _known("part", str(part), PARTS, fields, str(part))
        allowed = (*known.values, UNKNOWN, SAME)
        if value not in allowed:
            raise fields.refuse(f"part {part} is never left {value!r}; {', '.join(allowed)} are known", str(part))
        left[str(part)] = str(value)
    return {part: left[part] for part in PARTS if part in left}


def _answers(kind: str, fields: Fields) -> dict[str, AnswerPlan]:
    answers = {}
    for outcome, raw in fields.raw.items():
        if outcome not in OUTCOMES[kind]:
            raise fields.refuse(f"{outcome!r} is no outcome of a {kind} step; those are {', '.join(OUTCOMES[kind])}")
        answers[outcome] = _answer(fields.within(outcome, raw))
    for outcome in {CHECK: ("found", "ruled_out"), PROOF: ("proved", "not_proved")}.get(kind, ()):
        if outcome not in answers:
            raise fields.refuse(f"field {outcome!r} is missing", f"{outcome}.says", beside="Fill this in.")
    return answers


def _answer(fields: Fields) -> AnswerPlan:
    answer = AnswerPlan(
        cause=fields.key("cause", required=False) or None,
        next=fields.key("next", required=False) or None,
        says=fields.text("says"),
        cure=fields.text("cure", required=False),
        parts=tuple(_part(item) for item in fields.groups("parts")),
        escalate=fields.choice("escalate", ESCALATIONS) if fields.has("escalate") else None,
        call_customer=fields.text("call_customer", required=False) or None,
        leaves=_leaves(fields.group("leaves")),
    )
    fields.no_others()
    return answer


def _part(fields: Fields) -> PartPlan:
    quantity = fields.number("quantity")
    if quantity < 1 or quantity != int(quantity):
        said = f"quantity must be a whole number from 1, not {fields.raw['quantity']!r}"
        raise fields.refuse(said, beside="Enter a whole number, 1 or more.")
    part = PartPlan(role=fields.key("role"), quantity=int(quantity), note=fields.text("note", required=False))
    fields.no_others()
    return part
