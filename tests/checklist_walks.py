"""Walking shipped checklists by their suggestions alone, and the rules that no walk may break. No database.

A walk answers what is suggested: work is done, checks are ruled out, proofs hold. In turn each check finds once, and
each proof fails once, in every combination of the two. The rules are judged by what each answer opens and leaves, never
by what its step requires: a file that forgets a requirement must not pass.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

from diagnosis.layout import applies
from diagnosis.layout_plans import CHECK, PROOF, ChecklistPlan
from diagnosis.layout_writing import step_data
from diagnosis.runs_rules import missing_proof, needs_of, next_step, standing
from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import UnitState, dangers, effects, opened_on_the_way

UNITS: Mapping[str, Mapping[str, Any]] = {
    "air fork, circlip, bolts, bleed buttons": {
        "kind": "fork", "spring_kind": "air", "spring_retention": "internal_circlip", "foot_fastener": "bolt",
        "crush_washers": True, "bleed_buttons": True, "foam_rings": True, "self_equalising": True,
        "damper_kind": "sealed_cartridge",
    },
    "air fork, wire ring, nuts, no buttons": {
        "kind": "fork", "spring_kind": "air", "spring_retention": "wire_ring", "foot_fastener": "nut",
        "crush_washers": False, "bleed_buttons": False, "foam_rings": False, "self_equalising": True,
        "damper_kind": "closed_bladder",
    },
    "air fork, threaded cap, two valves": {
        "kind": "fork", "spring_kind": "air", "spring_retention": "threaded_cap", "foot_fastener": "bolt",
        "crush_washers": False, "bleed_buttons": False, "foam_rings": True, "self_equalising": False,
        "damper_kind": "open_bath",
    },
    "coil fork": {
        "kind": "fork", "spring_kind": "coil", "foot_fastener": "bolt", "crush_washers": True, "bleed_buttons": False,
        "foam_rings": True, "damper_kind": "open_bath",
    },
    "fork of which nothing is known": {"kind": "fork"},
    "air shock, ring": {
        "kind": "shock", "spring_kind": "air", "spring_retention": "wire_ring", "self_equalising": True,
        "damper_kind": "sealed_cartridge",
    },
    "air shock, threaded can": {
        "kind": "shock", "spring_kind": "air", "spring_retention": "threaded_cap", "self_equalising": False,
        "damper_kind": "sealed_cartridge",
    },
    "coil shock": {"kind": "shock", "spring_kind": "coil", "damper_kind": "sealed_cartridge"},
}  # fmt: skip

LONGEST = 250  # ticks; the longest shipped checklist has some fifty steps, and each proof failing opens it once more

OPEN_AT_THE_END = "No ready with anything open, unknown, or found and not mended"
PROOF_TOO_OLD = "No ready with a proof older than what it proves"
NEVER_ENDS = "Every walk ends"
REFUSED = "What is suggested can be done"


@dataclass(frozen=True)
class Violation:
    """A rule that a walk broke, and the walk as answers in their order."""

    rule: str
    words: str
    walk: tuple[str, ...]


@dataclass
class Walked:
    """What came of the walks of one checklist on one unit."""

    walks: int = 0
    longest: int = 0
    violations: list[Violation] = field(default_factory=list)
    by_rule: Counter[str] = field(default_factory=Counter)
    bad_walks: int = 0


@dataclass(frozen=True)
class _At:
    """A place in a walk."""

    outcomes: Mapping[str, str]
    unit: UnitState
    walk: tuple[str, ...] = ()
    found: str = ""
    failed: str = ""
    unsure: str = ""
    opened: Mapping[str, int] = field(default_factory=dict)
    proved: Mapping[str, int] = field(default_factory=dict)
    broken: tuple[tuple[str, str], ...] = ()


def as_steps(plan: ChecklistPlan) -> list[Any]:
    """The steps with plain data in their fields, as records have it."""
    return [SimpleNamespace(**step_data(step)) for step in plan.steps]


def walks_of(
    steps: Sequence[Any],
    facts: Mapping[str, Any],
    *,
    knows_state: bool = True,
    deep: bool = False,
    keep: int = 3,
    seen: Callable[[tuple[str, ...]], None] | None = None,
) -> Walked:
    """Every walk of a checklist on a unit; `knows_state` is false for the rules as they were without it.

    `deep`: one check on the way cannot tell, and after a proof that failed another check may find. `seen` is shown each
    walk at its end.
    """
    result = Walked()
    for at in ends_of(steps, facts, knows_state, deep):
        if seen is not None:
            seen(at.walk)
        result.walks += 1
        result.longest = max(result.longest, len(at.walk))
        if at.broken:
            result.bad_walks += 1
            result.by_rule.update({rule for rule, _ in at.broken})
            if len(result.violations) < keep:
                result.violations += [Violation(rule, words, at.walk) for rule, words in at.broken[:1]]
    return result


def ends_of(steps: Sequence[Any], facts: Mapping[str, Any], knows_state: bool, deep: bool) -> Iterator[_At]:
    kept = [step for step in steps if applies(step, facts) != "no"]
    by_key, needs = {step.key: step for step in kept}, needs_of(steps, facts)
    waiting = [_At({}, UnitState.as_it_came(facts))]
    while waiting:
        at = waiting.pop()
        unit = at.unit if knows_state else None
        stand = standing(kept, at.outcomes, unit)
        coming = next_step(kept, facts, stand, needs=needs, unit=unit)
        if coming is None or len(at.walk) >= LONGEST or at.broken:
            yield at if at.broken else _judged_at_the_end(at, kept, stand, needs, ended=coming is None)
            continue
        step = by_key[coming.key]
        waiting += [_answered(at, step, outcome, knows_state, deep) for outcome in _answers(at, step, deep)]


def _answers(at: _At, step: Any, deep: bool) -> list[str]:
    if step.kind == CHECK:
        found = [] if at.found else ["found"]
        return ["ruled_out", *found, *(["cant_tell"] if deep and not at.unsure and not at.failed else [])]
    if step.kind == PROOF:
        return ["proved"] if at.failed else ["proved", "not_proved"]
    return ["done"]


def _answered(at: _At, step: Any, outcome: str, knows_state: bool, deep: bool) -> _At:
    number = len(at.walk) + 1
    broken = [(danger.rule, danger.words) for danger in dangers(at.unit, step, outcome)]
    if knows_state and any(unmet.is_danger for unmet in at.unit.unmet(step)):
        broken.append((REFUSED, step.title))
    left = effects(step, outcome)
    opens = {*opened_on_the_way(step, outcome), *(part for part in left if not PARTS[part].is_closed(left[part]))}
    opened = {part: number for part in PARTS if part in at.unit.conditions and part in opens}
    proved = dict.fromkeys(step.proves, number) if outcome == "proved" else {}
    outcomes = {key: given for key, given in at.outcomes.items() if key != step.key} | {step.key: outcome}
    return replace(
        at,
        outcomes=outcomes,
        unit=at.unit.after(step, outcome),
        walk=(*at.walk, f"{step.key}: {outcome}"),
        # After a proof that failed, another check may find.
        found=step.key if outcome == "found" else "" if outcome == "not_proved" and deep else at.found,
        failed=step.key if outcome == "not_proved" else at.failed,
        unsure=step.key if outcome in ("cant_tell", "left_out") else at.unsure,
        opened={**at.opened, **opened},
        proved={**at.proved, **proved},
        broken=tuple(broken),
    )


def _judged_at_the_end(
    at: _At, steps: Sequence[Any], stand: Mapping[str, str], needs: Mapping[str, frozenset[str]], *, ended: bool
) -> _At:
    broken = [] if ended else [(NEVER_ENDS, at.walk[-1])]
    conditions = at.unit.conditions
    broken += [
        (OPEN_AT_THE_END, PARTS[part].in_words(value))
        for part, value in conditions.items()
        if value not in PARTS[part].closed
        and not (PARTS[part].finding and not brought_about_by(part, PARTS[part].closed, steps))
    ]
    broken += [
        (PROOF_TOO_OLD, f"{PARTS[part].label}: opened at tick {number}, proved at {at.proved.get(part, 'none')}")
        for part, number in at.opened.items()
        if at.proved.get(part, 0) < number
    ]
    broken += [(PROOF_TOO_OLD, step.title) for step in missing_proof(steps, stand, needs)]
    return replace(at, broken=tuple(broken))
