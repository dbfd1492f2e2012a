"""Checklists made up by Hypothesis: every field of the layout, filled or left out, in any words that can be printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from diagnosis.declared import LIVES, PORT_TRIES, REST_DEPTH, SAG, SERVICES
from diagnosis.layout import ChecklistPlan, read_checklist
from diagnosis.layout_fields import Fields
from diagnosis.layout_plans import BOLTS, CHECK, FINDINGS, MOVES, OUTCOMES, OWN_OUTCOMES, PROOF, SKILLS, WORK
from diagnosis.reading_kinds import WORD_KINDS
from diagnosis.unit_parts import AS_IT_CAME, PARTS, SAME, UNKNOWN
from specs.facts import FACTS
from specs.quantities import QUANTITIES

_LETTERS = st.characters(exclude_categories=["Cc", "Cs", "Cn"])
words = st.text(_LETTERS, min_size=1, max_size=40).filter(lambda text: bool(text.strip()))
keys = st.from_regex(r"[a-z0-9][a-z0-9_-]{0,20}", fullmatch=True)
minutes = st.floats(0, 500).map(lambda value: round(value, 3))
chances = st.floats(0, 1, allow_subnormal=False)
lines = st.lists(words, max_size=3)


def _left_without_opening(part: str) -> list[str]:
    """The conditions of a part, without those in which air would blow it off: they ask for an empty chamber first."""
    return [value for value in PARTS[part].values if not (PARTS[part].bears and value in PARTS[part].opened)]


def _opened(fitting: list[str]) -> list[str]:
    return sorted(part for part in fitting if not PARTS[part].bears)


# Facts on which no part of a unit hangs: a step for coil springs cannot leave an air chamber empty.
_OF_NO_PART = sorted(set(FACTS) - {fact for part in PARTS.values() for fact in part.when})


@st.composite
def conditions(draw: st.DrawFn, known: Sequence[str] = tuple(sorted(FACTS))) -> dict[str, Any]:
    facts = draw(st.lists(st.sampled_from(known), unique=True, max_size=3))
    return {fact: draw(st.lists(st.sampled_from(list(FACTS[fact].values)), min_size=1, unique=True)) for fact in facts}


def _as_one_line(text: str) -> str:
    return " ".join(text.split()).casefold()


@st.composite
def readings(draw: st.DrawFn) -> list[dict[str, Any]]:
    every = st.one_of(measured(), worded())
    made = [
        {"key": key, "label": draw(words), "help": draw(words), **draw(every)}
        for key in draw(st.lists(keys, unique=True, max_size=2))
    ]
    declared = draw(st.sampled_from([("", ""), (REST_DEPTH, ""), ("", SAG), (SAG, REST_DEPTH)]))
    for reading, measures in zip(made, declared, strict=False):
        if reading["quantity"] == "length":
            reading["measures"] = measures
    return made


@st.composite
def measured(draw: st.DrawFn) -> dict[str, Any]:
    return {
        "quantity": "length",
        "unit": draw(st.sampled_from(["mm", "in"])),
        "required": draw(st.booleans()),
        "low": "0 mm",
        "high": f"{draw(st.integers(1, 300))} mm",
        "wanted": draw(st.sampled_from(["", "sag", "travel"])),
        "as_found": draw(st.booleans()),
    }


@st.composite
def worded(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(sorted(WORD_KINDS)))
    own = [] if WORD_KINDS[kind].options else draw(st.lists(words, min_size=2, max_size=4, unique_by=_as_one_line))
    return {"quantity": kind, "required": draw(st.booleans()), **({"choices": own} if own else {})}


@st.composite
def answers(draw: st.DrawFn, causes: list[str], others: list[str], fitting: list[str]) -> dict[str, Any]:
    answer: dict[str, Any] = {"says": draw(words)}
    if bool(causes) and draw(st.booleans()):
        answer["cause"] = draw(st.sampled_from(causes))
    if bool(others) and draw(st.booleans()):
        answer["next"] = draw(st.sampled_from(others))
    for name in ("cure", "call_customer"):
        if draw(st.booleans()):
            answer[name] = draw(words)
    if draw(st.booleans()):
        answer["escalate"] = "damper"
    parts = draw(st.lists(st.sampled_from(sorted(PARTS)), unique=True, max_size=2))
    answer["leaves"] = {
        part: draw(st.sampled_from([*_left_without_opening(part), UNKNOWN, SAME])) for part in parts if part in fitting
    }
    answer["parts"] = [
        {"role": draw(keys), "quantity": draw(st.integers(1, 9)), "note": draw(st.one_of(st.just(""), words))}
        for _ in range(draw(st.integers(0, 2)))
    ]
    return answer


@st.composite
def steps(draw: st.DrawFn, key: str, kinds: dict[str, str], causes: list[str], fitting: list[str]) -> dict[str, Any]:
    """A step that names each cause with a chance when it is the check of that name, and needs only earlier steps."""
    kind, every = kinds[key], list(kinds)
    before = every[: every.index(key)]
    ends_search = {cause: draw(st.floats(0.01, 1)) for cause in causes} if kind == CHECK else {}
    step: dict[str, Any] = {
        "key": key, "kind": kind, "title": draw(words), "minutes": draw(minutes), "for_customer": draw(words),
        "skill": draw(st.sampled_from(SKILLS)), "safety": draw(st.booleans()), "spring_answer": draw(st.booleans()),
        "do": [
            draw(st.one_of(words, st.fixed_dictionaries({"text": words, "when": conditions().filter(bool)})))
            for _ in range(draw(st.integers(1, 3)))
        ],
        "look_for": draw(lines), "tools": draw(lines), "consumables": draw(lines),
        "counts_as_found": draw(words), "only_if": draw(conditions(_OF_NO_PART)), "readings": draw(readings()),
        "needs": draw(st.lists(st.sampled_from(before), unique=True, max_size=2)) if before else [],
        "shows": draw(st.lists(st.sampled_from(sorted(QUANTITIES)), unique=True, max_size=3)),
        "bolts": draw(st.lists(st.sampled_from(sorted(BOLTS)), unique=True, max_size=2)),
        "cautions": draw(st.lists(st.sampled_from(["brakes", "pinch"]), unique=True)),
        "replaces": draw(st.lists(keys, unique=True, max_size=1)),
        "ends_search": ends_search,
        "requires": {
            part: [AS_IT_CAME, *draw(st.lists(st.sampled_from(list(PARTS[part].values)), unique=True))]
            for part in draw(st.lists(st.sampled_from(sorted(PARTS)), unique=True, max_size=2))
        },
        "opens": draw(st.lists(st.sampled_from(_opened(fitting)), unique=True, max_size=2)),
        "proves": draw(st.lists(st.sampled_from(sorted(PARTS)), unique=True, max_size=2)) if kind == PROOF else [],
        "moves": draw(st.sampled_from(["", *MOVES])),
        "answers": {
            outcome: draw(answers(causes if outcome == "found" else [], [one for one in every if one != key], fitting))
            for outcome in (*OUTCOMES[kind], *(draw(st.sampled_from([(), OWN_OUTCOMES.get(kind, ())]))))
        },
    }  # fmt: skip
    if kind == WORK:
        later = [one for one in every[every.index(key) + 1 :] if kinds[one] == WORK]
        step["closed_by"] = draw(st.sampled_from(["", *later]))
        step["services"] = draw(st.lists(st.sampled_from(sorted(SERVICES)), unique=True, max_size=2))
        step["on_finding"] = draw(st.booleans())
        step["renews"] = draw(st.lists(st.sampled_from(sorted(LIVES)), unique=True, max_size=2))
    if kind == CHECK:
        step["frees_port"] = draw(st.sampled_from(["", *PORT_TRIES]))
    if draw(st.booleans()):
        step["timer"] = {"minutes": draw(st.integers(1, 60)), "label": draw(words)}
    if kind == CHECK and "cause" in step["answers"]["found"]:
        step["answers"]["found"].pop("cause")  # so that every cause can be found
    if kind == CHECK and draw(st.booleans()):
        step["answers"]["found"]["finding"] = draw(st.sampled_from(sorted(FINDINGS)))
    return step


def with_repairs(draw: st.DrawFn, made: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Some findings name the work and the proofs of the list that answer them."""
    mending = [step["key"] for step in made if step["kind"] != CHECK]
    for step in made:
        if step["kind"] == CHECK and mending:
            step["answers"]["found"]["repair"] = draw(st.lists(st.sampled_from(mending), unique=True, max_size=2))
    return made


@st.composite
def checklists(draw: st.DrawFn) -> ChecklistPlan:
    """A checklist that fits the layout and holds together."""
    every = draw(st.lists(keys, min_size=1, max_size=4, unique=True))
    causes = draw(st.lists(keys, min_size=1, max_size=3, unique=True))
    suits = draw(st.sampled_from([["fork"], ["shock"], ["fork", "shock"]]))
    fitting = [key for key, part in PARTS.items() if set(part.when.get("kind", suits)) & set(suits)]
    kinds = {key: draw(st.sampled_from(sorted(OUTCOMES))) for key in every}
    made = with_repairs(draw, [draw(steps(key, kinds, causes, fitting)) for key in every])
    is_routine = not any(step["kind"] == CHECK for step in made)
    data = {
        "layout": 1,
        "complaint": {
            "key": draw(keys), "title": draw(words), "symptoms": [draw(words)],
            "suits": suits,
        },
        "causes": [] if is_routine else [
            {"key": key, "title": draw(words), "for_customer": draw(words), "prior": draw(st.floats(0.01, 99)),
             "ends_life": draw(st.lists(st.sampled_from(sorted(LIVES)), unique=True, max_size=2))}
            for key in causes
        ],
        "cautions": {key: {"title": draw(words), "text": draw(words)} for key in ("brakes", "pinch")},
        "checklist": {
            "key": draw(keys), "title": draw(words), "summary": draw(words),
            "kind": "routine" if is_routine else "complaint", "chances_source": draw(words),
        },
        "steps": made,
    }  # fmt: skip
    return read_checklist(Fields(data, file="made-up.yaml"), {})
