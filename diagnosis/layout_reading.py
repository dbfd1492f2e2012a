"""From the fields of a checklist file to plans. What one record can know of itself is checked here.

Each reader raises one LayoutError with all that does not fit its record; see diagnosis.layout_fields.Fields.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any, TypeVar

from diagnosis.cautions import LEVELS, WARNING
from diagnosis.declared import LIVES, MEASURES, PORT_TRIES, SERVICES
from diagnosis.layout_fields import Fields
from diagnosis.layout_plans import (
    BOLTS,
    CHECK,
    ESCALATIONS,
    FINDINGS,
    MOVES,
    OUTCOMES,
    OWN_OUTCOMES,
    PROOF,
    SKILLS,
    WORK,
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
    outcomes_of,
)
from diagnosis.reading_kinds import LONGEST_CHOICE, MOST_CHOICES, WORD_KINDS
from diagnosis.unit_parts import AS_IT_CAME, CLOSED, PARTS, SAME, UNKNOWN
from diagnosis.wanted import MOST, WANTED
from specs.facts import FACTS, FactValue
from specs.quantities import QUANTITIES
from specs.units import DIMENSIONS, UnitError, parse

_T = TypeVar("_T")

READING_QUANTITIES = (
    "pressure", "length", "torque", "volume", "clicks", "temperature", "mass", "angle", "force", "count",
)  # fmt: skip


def read_caution(key: str, fields: Fields) -> CautionPlan:
    """One caution of the cautions file."""
    caution = CautionPlan(
        key=key,
        title=fields.text("title", longest=80),
        text=fields.text("text"),
        level=fields.choice("level", tuple(LEVELS)) if fields.has("level") else WARNING,
        only_if=fields.read("only_if", _condition, {}),
    )
    fields.done()
    return caution


def read_complaint(fields: Fields) -> ComplaintPlan:
    """The complaint a checklist is for."""
    kinds = tuple(str(kind) for kind in FACTS["kind"].values)
    suits = fields.texts("suits", required=True)
    for kind in suits:
        if kind not in kinds:
            fields.note(fields.refuse(f"suits {kind!r} is none of {', '.join(kinds)}"))
    complaint = ComplaintPlan(
        key=fields.key("key"),
        title=fields.text("title", longest=80),
        suits=suits,
        symptoms=fields.texts("symptoms", required=True),
    )
    fields.done()
    return complaint


def read_cause(fields: Fields) -> CausePlan:
    """One cause with its prior weight, which is above zero."""
    cause = CausePlan(
        key=fields.key("key"),
        title=fields.text("title", longest=120),
        for_customer=fields.text("for_customer"),
        prior=fields.number("prior"),
        ends_life=fields.texts("ends_life"),
    )
    _all_known("part", "ends_life", cause.ends_life, LIVES, fields)
    _once("ends_life", "ends_life", list(cause.ends_life), fields)
    if cause.prior == 0:
        fields.note(
            fields.refuse(f"cause {cause.key!r} needs a prior above zero, or it could never be learned", "prior")
        )
    fields.done()
    return cause


def read_step(fields: Fields, cautions: Mapping[str, CautionPlan], *, shared: bool = False) -> StepPlan:
    """One step. References to other steps and to causes are checked where the checklist is known."""
    kind = fields.choice("kind", tuple(OUTCOMES))
    step = StepPlan(
        key=fields.key("key"),
        kind=kind,
        title=fields.text("title", longest=80),
        do=_lines(fields),
        look_for=fields.texts("look_for"),
        counts_as_found=fields.text("counts_as_found", required=kind == CHECK),
        minutes=fields.number("minutes"),
        skill=fields.choice("skill", SKILLS),
        tools=fields.texts("tools"),
        consumables=fields.texts("consumables"),
        cautions=_all_known("caution", "cautions", fields.texts("cautions"), cautions, fields),
        needs=fields.texts("needs"),
        safety=fields.flag("safety"),
        only_if=fields.read("only_if", _condition, {}),
        shows=fields.texts("shows"),
        readings=fields.each("readings", _reading),
        timer=fields.read("timer", _timer, None),
        bolts=fields.texts("bolts"),
        ends_search=fields.read("ends_search", _ends_search, {}),
        requires=fields.read("requires", _requires, {}),
        opens=fields.texts("opens"),
        proves=fields.texts("proves"),
        closed_by=fields.key("closed_by", required=False),
        services=fields.texts("services"),
        renews=fields.texts("renews"),
        frees_port=fields.one_of("frees_port", PORT_TRIES),
        spring_answer=fields.flag("spring_answer"),
        on_finding=fields.flag("on_finding"),
        moves=fields.choice("moves", tuple(MOVES)) if fields.has("moves") and fields.raw["moves"] else "",
        answers=fields.read("answers", partial(_answers, kind), {}, required=kind in (CHECK, PROOF)),
        for_customer=fields.text("for_customer"),
        replaces=fields.texts("replaces"),
        shared=shared,
    )
    _all_known("spec quantity", "shows", step.shows, QUANTITIES, fields)
    _all_known("bolt", "bolts", step.bolts, BOLTS, fields)
    _once("reading", "readings", [reading.key for reading in step.readings], fields)
    for name in ("opens", "proves"):
        _all_known("part", name, getattr(step, name), PARTS, fields)
    if step.proves and kind and kind != PROOF:
        fields.note(fields.refuse("only a proof proves anything", "proves"))
    _all_known("service", "services", step.services, SERVICES, fields)
    _all_known("part", "renews", step.renews, LIVES, fields)
    _of_one_kind(step, fields)
    for name in ("needs", "shows", "bolts", "replaces", "opens", "proves", "services", "renews"):
        _once(name, name, list(getattr(step, name)), fields)
    measured = [reading.measures for reading in step.readings]
    for place, measure in enumerate(measured):
        if measure and measure in measured[:place]:
            fields.note(fields.refuse(f"two readings are of {measure}", f"readings.{place}.measures"))
    _once("cautions", "cautions", [caution.key for caution in step.cautions], fields)
    fields.done()
    return step


def _of_one_kind(step: StepPlan, fields: Fields) -> None:
    """What only work, or only a check, can declare."""
    for name, kind, said in (
        ("closed_by", WORK, "only work is put together again by another step"),
        ("services", WORK, "only work is part of a service"),
        ("renews", WORK, "only work makes a part new"),
        ("frees_port", CHECK, "only a check tries to free the port"),
        ("on_finding", WORK, "only work waits for a finding"),
    ):
        if getattr(step, name) and step.kind and step.kind != kind:
            fields.note(fields.refuse(said, name))


def _known(what: str, key: str, known: Mapping[str, _T], fields: Fields, field: str | None = None) -> _T:
    if key not in known:
        raise fields.refuse(f"unknown {what} {key!r}", field)
    return known[key]


def _all_known(what: str, field: str, keys: Iterable[str], known: Mapping[str, _T], fields: Fields) -> tuple[_T, ...]:
    found = []
    for key in keys:
        with fields.noting():
            found.append(_known(what, key, known, fields, field))
    return tuple(found)


def _once(what: str, field: str, keys: list[str], fields: Fields) -> None:
    seen = set()
    for place, key in enumerate(keys):
        if key in seen:
            where = f"readings.{place}.key" if field == "readings" else field
            fields.note(fields.refuse(f"duplicate key {key!r} in {what}", where))
        seen.add(key)


def _lines(fields: Fields) -> tuple[LinePlan, ...]:
    lines = []
    for place, item in enumerate(fields.items("do", required=True)):
        with fields.noting():
            lines.append(_line(item, fields, place))
    return tuple(lines)


def _line(item: Any, fields: Fields, place: int) -> LinePlan:
    if isinstance(item, str) and item.strip():
        item = {"text": item}
    line = fields.within("do", item, place)
    anywhere: Condition = {}
    when = line.read("when", _condition, anywhere, required="when" in line.raw)
    plan = LinePlan(text=line.text("text"), when=when)
    line.done()
    return plan


def _condition(fields: Fields) -> Condition:
    condition = {}
    for key, raw in fields.raw.items():
        with fields.noting():
            condition[key] = _fact_values(key, raw, fields)
    fields.settle()
    return condition


def _fact_values(key: str, raw: Any, fields: Fields) -> tuple[FactValue, ...]:
    fact = _known("fact", key, FACTS, fields)
    values = tuple(raw) if isinstance(raw, list | tuple) else (raw,)
    for value in values:
        # True == 1 in Python, so the type is compared as well.
        if not any(value == allowed and type(value) is type(allowed) for allowed in fact.values):
            raise fields.refuse(f"fact {key} has no value {value!r}")
    if not values:
        raise fields.refuse(f"fact {key} needs at least one value")
    # In the order of the registry, so that it does not matter how a file or a screen lists them.
    return tuple(allowed for allowed in fact.values if allowed in values)


def _reading(fields: Fields) -> ReadingPlan:
    quantity = fields.choice("quantity", (*READING_QUANTITIES, *WORD_KINDS))
    if quantity in WORD_KINDS:
        return _word_reading(quantity, fields)
    units = DIMENSIONS[quantity].shown_units if quantity else ()
    reading = ReadingPlan(
        key=fields.key("key"),
        label=fields.text("label", longest=80),
        quantity=quantity,
        unit=fields.choice("unit", units) if units and quantity != "count" else "",
        required=fields.flag("required", required=True),
        low=fields.text("low"),
        high=fields.text("high"),
        help=fields.text("help"),
        wanted=fields.text("wanted", required=False),
        most=fields.text("most", required=False),
        as_found=fields.flag("as_found"),
        measures=fields.one_of("measures", MEASURES),
    )
    fields.has("unit")
    _no_choices(reading, fields)
    _check_held_against(fields, reading)
    wanted = MEASURES[reading.measures].quantity if reading.measures else quantity
    if quantity and wanted != quantity:
        said = f"{reading.measures} is measured as {wanted}, not as {quantity}"
        fields.note(fields.refuse(said, "measures", beside=f"That is measured as {wanted}."))
    bounds = [_bound(fields, reading, name) for name in ("low", "high")] if quantity else []
    low, high = bounds or (None, None)
    if low is not None and high is not None and low >= high:
        said = f"reading {reading.key}: low {reading.low} is not below high {reading.high}"
        fields.note(fields.refuse(said, "high", beside=f"It must be more than {reading.low}."))
    fields.done()
    return reading


def _word_reading(kind: str, fields: Fields) -> ReadingPlan:
    """A reading that is one of a few words; what only a magnitude has may stand there empty."""
    reading = ReadingPlan(
        key=fields.key("key"),
        label=fields.text("label", longest=80),
        quantity=kind,
        unit="",
        required=fields.flag("required", required=True),
        low="",
        high="",
        help=fields.text("help"),
        choices=() if WORD_KINDS[kind].options else fields.texts("choices"),
    )
    for name in ("unit", "low", "high", "wanted", "most", "as_found", "measures"):
        if fields.has(name) and fields.raw[name] not in ("", False):
            said = f"reading {reading.key}: what is {WORD_KINDS[kind].label} has no {name!r}"
            fields.note(fields.refuse(said, name, beside="Leave this empty: the reading is a word."))
    if WORD_KINDS[kind].options:
        _no_choices(reading, fields)
    else:
        _check_choices(reading, fields)
    fields.done()
    return reading


def _no_choices(reading: ReadingPlan, fields: Fields) -> None:
    if fields.has("choices") and fields.raw["choices"]:
        said = f"reading {reading.key}: only one of a list has choices"
        fields.note(fields.refuse(said, "choices", beside="Only a reading that is one of a list has choices."))


def _check_choices(reading: ReadingPlan, fields: Fields) -> None:
    folded = [choice.casefold() for choice in reading.choices]
    if not 2 <= len(folded) <= MOST_CHOICES:
        wanted = f"2 to {MOST_CHOICES} choices"
        said = f"reading {reading.key} needs {wanted}"
        fields.note(fields.refuse(said, "choices", beside=f"Enter {wanted}, one a line."))
    for choice in reading.choices:
        if len(choice) > LONGEST_CHOICE:
            said = f"reading {reading.key}: a choice is longer than {LONGEST_CHOICE} characters"
            fields.note(fields.refuse(said, "choices", beside=f"{LONGEST_CHOICE} characters at most."))
    if len(set(folded)) < len(folded):
        said = f"reading {reading.key}: a choice stands there twice"
        fields.note(fields.refuse(said, "choices", beside="Each choice once."))


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
            fields.note(fields.refuse(said, name, beside="There is no such value to compare with."))
        elif key and reading.quantity and dimensions[key] != reading.quantity:
            said = f"reading {reading.key}: {name} {key!r} is a {dimensions[key]}, the reading a {reading.quantity}"
            beside = f"That is a {dimensions[key]}, and this a {reading.quantity}."
            fields.note(fields.refuse(said, name, beside=beside))


def _bound(fields: Fields, reading: ReadingPlan, name: str) -> float | None:
    """The bound in SI; None where it is not one, which is noted, or is missing, which was."""
    typed = getattr(reading, name)
    if typed:
        try:
            return parse(typed, reading.quantity, reading.unit)
        except UnitError as error:
            fields.note(fields.refuse(f"reading {reading.key}: {error}", name, beside=str(error)))
    return None


def _timer(fields: Fields) -> TimerPlan:
    timer = TimerPlan(minutes=fields.number("minutes"), label=fields.text("label", longest=80))
    if timer.minutes == 0:
        fields.note(fields.refuse("a timer needs more than 0 minutes", "minutes"))
    fields.done()
    return timer


def _ends_search(fields: Fields) -> dict[str, float]:
    chances = {}
    for cause, raw in fields.raw.items():
        with fields.noting():
            chances[cause] = _chance(cause, raw, fields)
    fields.settle()
    return chances


def _chance(cause: Any, raw: Any, fields: Fields) -> float:
    if not isinstance(cause, str):
        raise fields.refuse(f"{cause!r} is no key of a cause")
    chance = fields.as_number(f"the chance for {cause!r}", raw, cause)
    if chance > 1:
        said = f"the chance for {cause!r} must be 0 to 1, not {raw!r}"
        raise fields.refuse(said, cause, beside="Enter a chance from 0 to 1, for example 0.3.")
    return chance


def _requires(fields: Fields) -> dict[str, tuple[str, ...]]:
    """Part to the conditions that are allowed, in the order of the registry."""
    wanted = {}
    for part, raw in fields.raw.items():
        with fields.noting():
            wanted[part] = _required_conditions(str(part), raw, fields)
    fields.settle()
    return {part: wanted[part] for part in PARTS if part in wanted}


def _required_conditions(part: str, raw: Any, fields: Fields) -> tuple[str, ...]:
    allowed = (CLOSED, AS_IT_CAME, *_known("part", part, PARTS, fields, part).values)
    values = tuple(raw) if isinstance(raw, list | tuple) else (raw,)
    if not values:
        raise fields.refuse(f"part {part} needs at least one condition", part)
    for value in values:
        if value not in allowed:
            raise fields.refuse(f"part {part} is never required {value!r}; {', '.join(allowed)} are known", part)
    return tuple(value for value in allowed if value in values)


def _leaves(fields: Fields) -> dict[str, str]:
    """Part to the condition it is left in, in the order of the registry."""
    left = {}
    for part, value in fields.raw.items():
        with fields.noting():
            allowed = (*_known("part", str(part), PARTS, fields, str(part)).values, UNKNOWN, SAME)
            if value not in allowed:
                raise fields.refuse(f"part {part} is never left {value!r}; {', '.join(allowed)} are known", str(part))
            left[part] = str(value)
    fields.settle()
    return {part: left[part] for part in PARTS if part in left}


def _answers(kind: str, fields: Fields) -> dict[str, AnswerPlan]:
    answers = {}
    for outcome, raw in fields.raw.items():
        with fields.noting():
            if kind and outcome not in outcomes_of(kind, fields.raw):
                known = ", ".join((*OUTCOMES[kind], *OWN_OUTCOMES.get(kind, ())))
                raise fields.refuse(f"{outcome!r} is no outcome of a {kind} step; those are {known}")
            answers[outcome] = _answer(fields.within(outcome, raw))
    for outcome in {CHECK: ("found", "ruled_out"), PROOF: ("proved", "not_proved")}.get(kind, ()):
        if outcome not in fields.raw:
            fields.note(fields.refuse(f"field {outcome!r} is missing", f"{outcome}.says", beside="Enter this."))
    fields.settle()
    return answers


def _answer(fields: Fields) -> AnswerPlan:
    answer = AnswerPlan(
        cause=fields.key("cause", required=False) or None,
        next=fields.key("next", required=False) or None,
        says=fields.text("says"),
        cure=fields.text("cure", required=False),
        parts=fields.each("parts", _part),
        escalate=fields.choice("escalate", ESCALATIONS) if fields.has("escalate") else None,
        call_customer=fields.text("call_customer", required=False) or None,
        leaves=fields.read("leaves", _leaves, {}),
        finding=fields.choice("finding", tuple(FINDINGS)) if fields.has("finding") else None,
        repair=fields.texts("repair"),
    )
    _once("repair", "repair", list(answer.repair), fields)
    fields.done()
    return answer


def _part(fields: Fields) -> PartPlan:
    quantity = fields.number("quantity")
    if quantity < 1 or quantity != int(quantity):
        said = f"quantity must be a whole number from 1, not {fields.raw['quantity']!r}"
        fields.note(fields.refuse(said, beside="Enter a whole number, 1 or more."))
    part = PartPlan(role=fields.key("role"), quantity=int(quantity), note=fields.text("note", required=False))
    fields.done()
    return part
