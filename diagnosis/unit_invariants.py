"""The rules that nothing on the bench may break, each with its reason, and what an answer must not meet. Pure.

They are judged by what an answer opens, proves and leaves, never by what its checklist happens to require: a file that
forgets a requirement must not pass. What hurts whom is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from diagnosis.layout_plans import CHECK, PROOF, WORK
from diagnosis.unit_parts import AS_IT_CAME, CHAMBERS, CHARGED, EMPTY, HOLDS_AIR, PARTS, UNKNOWN
from diagnosis.unit_state import (
    FILLED_OPEN,
    GAS_CHARGED,
    PROVED,
    UNDER_PRESSURE,
    UNPROVED_HOLD,
    StateStep,
    effects,
    opened_on_the_way,
    says_done,
)

MOVED_LOOSE = "No push, bounce or ride with wheel, axle or brake not in place"
CLOSED_DRY = "Oil before closing"
PROOF_TOO_EARLY = "No proof of what is still open"
PROOF_TOO_OLD = "No ready with a proof older than what it proves"
NO_RECORD = "No safety-critical bolt without a record"
MENDED_SHUT = "Nothing is mended behind what is closed"
OPENED_UNSAID = "What a check tightens it says that it opened"
OPEN_AT_THE_END = "No ready with anything open, unknown, or found and not mended"
NO_WAY_BACK = "From every state a way leads to ready"
NEVER_ENDS = "Every walk ends"
REFUSED = "What is suggested can be done"
CAUSE_OUT_OF_REACH = "Every cause can be reached"
DEARER_FIRST = "The cheapest first among equals"

TOO_MUCH = "Everything that can happen can be gone through"

REASONS: Mapping[str, str] = {
    UNDER_PRESSURE: "A cap, a seal head or a foot that lets go under air flies at whoever holds it.",
    FILLED_OPEN: "Air pumped in behind a part that is off, loose or unknown throws it out.",
    GAS_CHARGED: "Gas behind a piston drives cap, piston and oil out at whoever opens the damper by hand.",
    UNPROVED_HOLD: "A ring that is not quite in its groove lets go when the air comes, with the face above it.",
    MOVED_LOOSE: "Weight on a bike whose wheel, axle, brake or shock is not fast throws the rider, or the mechanic.",
    CLOSED_DRY: "Feet closed on dry legs wear the bushings out, and nobody looks in again.",
    PROOF_TOO_EARLY: "What is put together after its proof was never proved.",
    PROOF_TOO_OLD: "What was opened after its proof is proved no more.",
    NO_RECORD: "Without value, tool and name nobody knows whether a bolt that holds the wheel is tight.",
    MENDED_SHUT: "New seals behind a closed part went in by word only, or the part was opened and nobody was told.",
    OPENED_UNSAID: "What was loosened and tightened again asks for its proof anew, so it has to be said.",
    OPEN_AT_THE_END: "A bike handed back open hurts its rider.",
    NO_WAY_BACK: "A mechanic must always be able to finish, whatever was done, skipped or taken back.",
    NEVER_ENDS: "Suggestions that go round in a circle send nobody home.",
    REFUSED: "A suggestion that the bench refuses leaves the mechanic without one.",
    CAUSE_OUT_OF_REACH: "A cause that no check comes to is never found.",
    TOO_MUCH: "What was not gone through counts as dangerous. Fewer steps that change the unit make it possible.",
    DEARER_FIRST: "Of two that settle as much the one that takes less, opened and closed again, saves minutes.",
}
DANGERS = frozenset(
    {
        UNDER_PRESSURE,
        GAS_CHARGED,
        FILLED_OPEN,
        UNPROVED_HOLD,
        MOVED_LOOSE,
        PROOF_TOO_EARLY,
        PROOF_TOO_OLD,
        OPEN_AT_THE_END,
    }
    | {TOO_MUCH, NO_RECORD, NO_WAY_BACK, NEVER_ENDS, OPENED_UNSAID, CLOSED_DRY, MENDED_SHUT}
)
"""Rules for which a draft is not put in use while it breaks them."""

HELD_BY_PUSH = ("wheel", "axle", "caliper", "shock")
HELD_BY_RIDE = (*HELD_BY_PUSH, "stem", "crowns", "foot_fasteners", "lowers", "can", "preload")


@dataclass(frozen=True)
class Forbidden:
    """A rule, and the conditions in which an answer breaks it: all of these parts in one of their values at once.

    `as_asked`: only where the unit is as the step requires. Otherwise wherever the bench takes the answer.
    """

    rule: str
    words: str
    where: Mapping[str, frozenset[str]]
    as_asked: bool = False


def forbidden(step: StateStep, outcome: str) -> Iterator[Forbidden]:
    """What the answer must not meet, whatever its step requires; what was not done breaks nothing."""
    if not says_done(step, outcome):
        return
    left = effects(step, outcome)
    yield from _under_pressure(step, outcome, left)
    yield from _gas_charged(step, outcome, left)
    yield from _filled(left)
    yield from _moved(step)
    if "foot_fasteners" in left and PARTS["foot_fasteners"].is_closed(left["foot_fasteners"]):
        yield Forbidden(CLOSED_DRY, "the feet are closed and the legs may be dry", _dry(left))
    if step.kind == PROOF and outcome == PROVED:
        yield from _proved_too_early(step, left)
    yield from _unrecorded(step, left)
    yield from _mended_shut(step, left)


def open_values(part: str) -> frozenset[str]:
    """Every condition in which a part may not leave the bench."""
    return frozenset({AS_IT_CAME, UNKNOWN, *PARTS[part].values}) - frozenset(PARTS[part].closed)


def _under_pressure(step: StateStep, outcome: str, left: Mapping[str, str]) -> Iterator[Forbidden]:
    on_the_way = opened_on_the_way(step, outcome)
    opened = [part for part, one in PARTS.items() if one.bears and (part in on_the_way or left.get(part) in one.opened)]
    if opened:
        for chamber in CHAMBERS:
            values = frozenset({AS_IT_CAME, UNKNOWN, *PARTS[chamber].values}) - {EMPTY}
            words = f"{PARTS[opened[0]].named} may be under air: {PARTS[chamber].unknown}"
            yield Forbidden(UNDER_PRESSURE, words, {chamber: values})


def _gas_charged(step: StateStep, outcome: str, left: Mapping[str, str]) -> Iterator[Forbidden]:
    on_the_way = opened_on_the_way(step, outcome)
    if any(part in on_the_way or left.get(part) in one.opened for part, one in PARTS.items() if one.bears_gas):
        for part, one in PARTS.items():
            if one.gas:
                values = frozenset({AS_IT_CAME, UNKNOWN, *one.values}) - {EMPTY}
                yield Forbidden(GAS_CHARGED, f"the damper is opened here: {one.unknown}", {part: values})


def _filled(left: Mapping[str, str]) -> Iterator[Forbidden]:
    if any(left.get(chamber) in HOLDS_AIR for chamber in CHAMBERS):
        for part, one in PARTS.items():
            if one.bears and not one.is_closed(left.get(part, "")):
                rule = UNPROVED_HOLD if part == "retention" else FILLED_OPEN
                yield Forbidden(rule, f"there is air now and {one.unknown}", {part: open_values(part)})


def _moved(step: StateStep) -> Iterator[Forbidden]:
    held = {"push": HELD_BY_PUSH, "ride": HELD_BY_RIDE}.get(getattr(step, "moves", ""), ())
    for part in (part for part in held if part not in (step.opens or ())):
        yield Forbidden(MOVED_LOOSE, f"weight on it while {PARTS[part].unknown}", {part: open_values(part)})
    if getattr(step, "moves", "") == "ride":
        left = {value for answer in (step.answers or {}).values() for value in (answer.get("leaves") or {}).items()}
        if ("brakes", "tried") not in left:
            untried = frozenset({*open_values("brakes")})
            yield Forbidden(MOVED_LOOSE, f"a ride while {PARTS['brakes'].unknown}", {"brakes": untried})


def _dry(left: Mapping[str, str]) -> Mapping[str, frozenset[str]]:
    if PARTS["oil"].is_closed(left.get("oil", "")):
        return {"oil": frozenset()}
    return {"oil": open_values("oil"), "foot_fasteners": frozenset(PARTS["foot_fasteners"].opened)}


def _proved_too_early(step: StateStep, left: Mapping[str, str]) -> Iterator[Forbidden]:
    for part in step.proves or ():
        one = PARTS[part]
        if not one.finding and not one.is_closed(left.get(part, "")):
            # Air that was let out hurts nobody: there is only nothing to prove.
            words = f"it proves {one.named} while {one.unknown}"
            yield Forbidden(PROOF_TOO_EARLY, words, {part: open_values(part)}, as_asked=one.chamber)


def _reads(step: StateStep, quantity: str) -> bool:
    """Whether the step cannot be answered without a reading of that quantity."""
    return any(one.get("required") and one.get("quantity") == quantity for one in getattr(step, "readings", ()))


def _unrecorded(step: StateStep, left: Mapping[str, str]) -> Iterator[Forbidden]:
    read = _reads(step, "torque")
    for part, value in left.items():
        one = PARTS[part]
        if not one.is_closed(value):
            continue
        if one.gas and value == CHARGED and not _reads(step, "pressure"):
            words = f"{one.in_words(value)}, and its pressure is asked of nobody"
            yield Forbidden(NO_RECORD, words, {part: frozenset({AS_IT_CAME, UNKNOWN, *one.values})})
        missing = [bolt for bolt in one.bolts if bolt not in (getattr(step, "bolts", None) or ())]
        if missing or (one.torque and not read):
            words = f"{one.named} is tight, and value, tool and name are asked of nobody"
            yield Forbidden(NO_RECORD, words, {part: frozenset({AS_IT_CAME, UNKNOWN, *one.values})})
        if step.kind == CHECK and one.opened and not one.bears and part not in (step.opens or ()):
            closed = frozenset(one.closed)
            words = f"it leaves {one.named} closed and does not say that it was opened"
            yield Forbidden(OPENED_UNSAID, words, {part: closed}, as_asked=True)


def _mended_shut(step: StateStep, left: Mapping[str, str]) -> Iterator[Forbidden]:
    for part, value in left.items():
        one = PARTS[part]
        if one.finding and step.kind == WORK and one.is_closed(value) and one.behind not in (step.opens or ()):
            closed = frozenset(PARTS[one.behind].closed)
            words = f"{one.in_words(value)}, behind what is closed: {PARTS[one.behind].named}"
            yield Forbidden(MENDED_SHUT, words, {one.behind: closed}, as_asked=True)


def breaks(conditions: Mapping[str, str], step: StateStep, outcome: str) -> list[Forbidden]:
    """What an answer breaks on a unit in these conditions."""
    return [
        one
        for one in forbidden(step, outcome)
        if all(part in conditions and conditions[part] in values for part, values in one.where.items())
    ]


def uncovered(touched: Collection[str], proofs: Collection[StateStep]) -> frozenset[str]:
    """Parts among those opened, or left in doubt, that none of these proofs is of."""
    covered = {part for proof in proofs for part in proof.proves or ()}
    return frozenset(touched) - covered
