"""What a walk opens and closes, and which of it served nothing. No database.

An opening serves something where, before it is closed again, a check is made that wants or needs it, work is done that
wants it open and answers a finding or closes something else, or something is opened through it that serves itself; and
where it opens the very part that was found loose, or answers a finding itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from diagnosis.layout_plans import CHECK, WORK
from diagnosis.repairs import repair_of
from diagnosis.runs_rules import FOUND, NOT_PROVED, answer_of, can_end_search
from diagnosis.unit_parts import EMPTY, PARTS, allowed_values
from diagnosis.unit_state import UnitState, effects


@dataclass
class Opening:
    """One answer of a walk that opened parts: its place, the parts, and the places of those that closed them again."""

    place: int
    parts: frozenset[str]
    closed: dict[str, int] = field(default_factory=dict)
    serves: bool = False


def answers_of(walk: Iterable[str]) -> list[tuple[str, str]]:
    """The answers of a walk as (step, outcome)."""
    return [(key, outcome) for key, _, outcome in (entry.partition(": ") for entry in walk)]


@dataclass(frozen=True)
class _Change:
    """What an answer makes of the unit, and the parts that it opened and shut."""

    after: UnitState
    opened: frozenset[str]
    shut: frozenset[str]


Changes = dict[tuple[tuple[str, ...], str, str], _Change]


def _change(unit: UnitState, step: Any, outcome: str, known: Changes) -> _Change:
    """Follows from the unit's conditions alone, as nothing is taken back: walks of the same beginning share it."""
    same = (tuple(unit.conditions.values()), step.key, outcome)
    if same not in known:
        after = unit.after(step, outcome)
        counts = [part for part in unit.conditions if not (PARTS[part].finding or PARTS[part].tried)]
        opened = frozenset(part for part in counts if _is_shut(part, unit) and _is_opened(part, after))
        shut = frozenset(part for part in counts if not _is_shut(part, unit) and _is_shut(part, after))
        known[same] = _Change(after, opened, shut)
    return known[same]


def openings_of(
    walk: Sequence[tuple[str, str]], steps: Sequence[Any], facts: Mapping[str, Any], known: Changes | None = None
) -> list[Opening]:
    """Every opening in a walk, in turn.

    Args:
        steps: those that apply.
        known: what answers changed in other walks of the same steps and facts; what is new comes to it.
    """
    by_key = {step.key: step for step in steps}
    unit, found, closing = UnitState.as_it_came(facts), list[Opening](), set[int]()
    known = {} if known is None else known
    for place, (key, outcome) in enumerate(walk):
        change = _change(unit, by_key[key], outcome, known)
        unit, opened, shut = change.after, change.opened, change.shut
        for one in found:
            one.closed |= dict.fromkeys(one.parts & shut - one.closed.keys(), place)
        if shut and by_key[key].kind == WORK:
            closing.add(place)
        if opened and by_key[key].kind == WORK:
            found.append(Opening(place, opened))
    mending = _mending(walk, by_key, steps)
    asking = _asking(walk, by_key) | mending
    useful = asking | closing
    faulty = _at_fault(walk, by_key)
    for one in reversed(found):  # what is opened through it is judged before it
        one.serves = one.place in faulty | mending or any(
            place in (asking if place == one.closed.get(part) else useful)
            and (_wants_open(by_key[walk[place][0]], part) or walk[one.place][0] in by_key[walk[place][0]].needs)
            for part in one.parts
            for place in range(one.place + 1, one.closed.get(part, len(walk)) + 1)
            if place < len(walk)
        )
        if one.serves:
            useful.add(one.place)
    return found


def _is_shut(part: str, unit: UnitState) -> bool:
    return PARTS[part].is_closed(unit.conditions[part])


def _is_opened(part: str, unit: UnitState) -> bool:
    value = unit.conditions[part]
    return value == EMPTY if PARTS[part].chamber else value in PARTS[part].opened


def _wants_open(step: Any, part: str) -> bool:
    wanted = (step.requires or {}).get(part)
    return wanted is not None and not any(PARTS[part].is_closed(value) for value in allowed_values(part, wanted))


def _asking(walk: Sequence[tuple[str, str]], by_key: Mapping[str, Any]) -> set[int]:
    """The checks of a walk, up to its cause; after a finding that leads to opening the unit, those behind it too."""
    found, over = set[int](), False
    for place, (key, outcome) in enumerate(walk):
        step = by_key[key]
        if step.kind == CHECK and not over:
            found.add(place)
        if outcome == FOUND and can_end_search(step):
            target = by_key.get(answer_of(step, FOUND).get("next") or "")
            left = effects(target, "done") if target is not None else {}
            over = not any(value in PARTS[part].opened for part, value in left.items())
        elif outcome == NOT_PROVED:
            over = False
    return found


def _mending(walk: Sequence[tuple[str, str]], by_key: Mapping[str, Any], steps: Sequence[Any]) -> set[int]:
    """The answers of a walk that are part of what answers a finding before them."""
    repair: set[str] = set()
    found: set[int] = set()
    for number, (key, outcome) in enumerate(walk):
        if key in repair:
            found.add(number)
        if outcome == FOUND:
            repair |= {step.key for step in repair_of(by_key[key], steps).steps}
    return found


def _at_fault(walk: Sequence[tuple[str, str]], by_key: Mapping[str, Any]) -> set[int]:
    """The answers of a walk that leave a part which was found loose before them."""
    loose: set[str] = set()
    found: set[int] = set()
    for number, (key, outcome) in enumerate(walk):
        left = effects(by_key[key], outcome)
        if loose & left.keys():
            found.add(number)
        if outcome == FOUND:
            loose |= {part for part, value in left.items() if value == "loose"}
    return found
