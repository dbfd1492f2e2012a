"""What state a unit is in, from the ticks in the order in which they were made. Pure.

Each step declares in its checklist what it requires, what it opens on the way, and what its answers leave. What nobody
can say is unknown: after “can't tell”, “left out”, “not proved” or an answer taken back, unless the file says
otherwise, and after a wait that was left early, whatever the file says. Unknown counts as the dangerous one wherever it
matters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from diagnosis.layout_facts import Facts, fits
from diagnosis.layout_plans import CHECK, PROOF, STILL_PULLING, WORK, outcomes_of
from diagnosis.unit_parts import (
    AS_IT_CAME,
    CHAMBERS,
    EMPTY,
    HOLDS_AIR,
    LOADED,
    PARTS,
    SAME,
    UNKNOWN,
    allowed_values,
    is_danger,
)

DONE, LEFT_OUT, PROVED, TAKEN_BACK = "done", "left_out", "proved", "taken_back"
LEFT_EARLY = "left_early"
"""How an answer counts that says all is well though the step's wait was not kept; nobody chooses it."""
UNSURE = frozenset({"cant_tell", LEFT_OUT, STILL_PULLING, "not_proved"})


class StateStep(Protocol):
    """A step as these rules see it."""

    key: str
    kind: str
    title: str
    requires: Any
    opens: Any
    proves: Any
    answers: Any


@dataclass(frozen=True)
class Unmet:
    """A requirement that does not hold: the part, how it is, and what is allowed instead."""

    part: str
    now: str
    allowed: frozenset[str]

    @property
    def is_danger(self) -> bool:
        return is_danger(self.part, self.allowed)

    @property
    def asks_for_a_loaded_chamber(self) -> bool:
        """Whether the step is the way on from a loaded chamber, and none is: nobody is sent to it."""
        return self.allowed == {LOADED}

    @property
    def words(self) -> str:
        """How the part is now, as a clause."""
        one = PARTS[self.part]
        if one.chamber and self.now == AS_IT_CAME:
            return f"nobody has let the air out of the {one.label.lower()}"
        if one.gas and self.now == AS_IT_CAME:
            return "nobody has let the damper’s gas out"
        return one.in_words(self.now)


def declares(step: StateStep) -> bool:
    """Whether the step says anything about the unit's state."""
    return bool(step.requires or step.opens or step.proves) or any(
        answer.get("leaves") for answer in (step.answers or {}).values()
    )


def effects(step: StateStep, outcome: str) -> dict[str, str]:
    """What an answer leaves, by part; what an unsure one does not declare is unknown."""
    answers: Mapping[str, Mapping[str, Any]] = step.answers or {}
    own: Mapping[str, str] = answers.get(outcome, {}).get("leaves") or {}
    if outcome not in UNSURE and outcome != LEFT_EARLY:
        return {part: value for part, value in own.items() if value != SAME}
    sure = {part for given, answer in answers.items() if given not in UNSURE for part in answer.get("leaves") or {}}
    if outcome == LEFT_EARLY:
        return dict.fromkeys(sure, UNKNOWN)
    left = {**dict.fromkeys(sure, UNKNOWN), **own}
    return {part: value for part, value in left.items() if value != SAME}


def endings(step: StateStep) -> tuple[str, ...]:
    """Every way in which the step can end: as somebody answers it, or with its wait left early."""
    chosen = outcomes_of(step.kind, step.answers)
    return (*chosen, LEFT_EARLY) if getattr(step, "timer", None) else chosen


def says_done(step: StateStep, outcome: str) -> bool:
    """Whether the answer says that the step was done; “can't tell” does where its file says that it leaves air."""
    if outcome not in UNSURE:
        return True
    return any(effects(step, outcome).get(chamber) in HOLDS_AIR for chamber in CHAMBERS)


def opened_on_the_way(step: StateStep, outcome: str) -> tuple[str, ...]:
    """Parts that the step opens, though it may close them again itself."""
    return () if outcome in (LEFT_OUT, TAKEN_BACK) else tuple(step.opens or ())


@dataclass(frozen=True)
class UnitState:
    """The conditions of a unit after `count` ticks.

    `touched` holds the number of the tick that opened a part last, or left it in doubt; `set_by` the number and step
    of the one that set its condition; `answered` the number and outcome of each step's last answer. Ticks count from 1.
    """

    conditions: Mapping[str, str]
    touched: Mapping[str, int] = field(default_factory=dict)
    set_by: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    answered: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    count: int = 0

    @classmethod
    def as_it_came(cls, facts: Facts) -> UnitState:
        """A unit of these facts before anything was ticked."""
        return cls({key: AS_IT_CAME for key, part in PARTS.items() if fits(part.when, facts) != "no"})

    def after(self, step: StateStep, outcome: str) -> UnitState:
        """The state after one more tick, or after an answer was taken back."""
        number = self.count + 1
        answered = {**self.answered, step.key: (number, outcome)}
        if outcome == TAKEN_BACK:
            left = dict.fromkeys((part for part, (_, key) in self.set_by.items() if key == step.key), UNKNOWN)
        else:
            left = {part: value for part, value in effects(step, outcome).items() if part in self.conditions}
        opened = {part for part in opened_on_the_way(step, outcome) if part in self.conditions}
        if not left and not opened:
            return UnitState(self.conditions, self.touched, self.set_by, answered, number)
        doubtful = {part for part, value in left.items() if not PARTS[part].is_closed(value)}
        return UnitState(
            {**self.conditions, **left},
            {**self.touched, **dict.fromkeys(opened | doubtful, number)},
            {**self.set_by, **dict.fromkeys(left, (number, step.key))},
            answered,
            number,
        )

    def unmet(self, step: StateStep) -> list[Unmet]:
        """What the step requires and this unit is not, in the order of the parts."""
        wanted: Mapping[str, Sequence[str]] = step.requires or {}
        found = []
        for part in PARTS:
            if part in wanted and part in self.conditions:
                allowed = allowed_values(part, wanted[part])
                if self.conditions[part] not in allowed:
                    found.append(Unmet(part, self.conditions[part], allowed))
        return found

    def lacks_a_loaded_chamber(self, step: StateStep) -> bool:
        """Whether the step is the way on from a loaded chamber, and none is: nobody is sent to it."""
        wanted: Mapping[str, Sequence[str]] = step.requires or {}
        return any(
            LOADED in words  # few steps name it, and this is asked of every open step of a run again and again
            and allowed_values(part, words) == {LOADED}
            and self.conditions.get(part, LOADED) != LOADED
            for part, words in wanted.items()
        )

    def still_stands(self, step: StateStep) -> bool:
        """Whether the step's last answer still says what is so.

        Work that closed something does not once it is open again, nor a proof that is older than what it proves, nor
        either of them where its wait was left early.
        """
        number, outcome = self.answered.get(step.key, (0, ""))
        if outcome == LEFT_EARLY:
            return step.kind == CHECK  # a question that was not answered to the end; work and proof are open again
        if step.kind == PROOF and outcome == PROVED:
            return all(self.touched.get(part, 0) <= number for part in step.proves or ())
        if step.kind == WORK and outcome == DONE:
            left: Mapping[str, str] = step.answers[DONE].get("leaves") or {} if DONE in (step.answers or {}) else {}
            return not any(
                value != SAME and PARTS[part].is_closed(value) and part in self.conditions and self.is_open(part)
                for part, value in left.items()
            )
        return True

    def is_open(self, part: str) -> bool:
        """Whether a part is not as it may leave the bench; unknown counts as open."""
        return not PARTS[part].is_closed(self.conditions[part])

    @property
    def open_parts(self) -> list[str]:
        """Everything that is open or unknown, faults that were found among it."""
        return [part for part in self.conditions if self.is_open(part)]

    @property
    def may_be_under_pressure(self) -> list[str]:
        """Chambers that nobody has proved empty."""
        return [part for part in CHAMBERS if self.conditions.get(part, EMPTY) != EMPTY]


def state_after(facts: Facts, ticks: Iterable[tuple[StateStep, str]]) -> UnitState:
    """The state of a unit with these facts after these ticks, oldest first, answers taken back among them."""
    state = UnitState.as_it_came(facts)
    for step, outcome in ticks:
        state = state.after(step, outcome)
    return state


@dataclass(frozen=True)
class Danger:
    """A rule that no answer may break, and what breaks it here, in words."""

    rule: str
    words: str


UNDER_PRESSURE = "Nothing that may be under pressure is opened"
FILLED_OPEN = "Nothing that is open is filled"
GAS_CHARGED = "No damper is opened while its gas may be in"
UNPROVED_HOLD = "No air on a hold that is not proved"


def _opens(step: StateStep, outcome: str, left: Mapping[str, str], part: str) -> bool:
    return part in opened_on_the_way(step, outcome) or left.get(part) in PARTS[part].opened


def dangers(state: UnitState, step: StateStep, outcome: str) -> list[Danger]:
    """What an answer would break that hurts somebody, whatever its checklist requires of it.

    A file that forgets a requirement is caught here: opening, and filling, are known by the parts alone.
    """
    left = {part: value for part, value in effects(step, outcome).items() if part in state.conditions}
    opened = [
        part
        for part, one in PARTS.items()
        if one.bears and part in state.conditions and _opens(step, outcome, left, part)
    ]  # fmt: skip
    found = []
    if opened:
        for chamber in state.may_be_under_pressure:
            words = Unmet(chamber, state.conditions[chamber], frozenset({EMPTY})).words
            found.append(Danger(UNDER_PRESSURE, words))
    if any(_opens(step, outcome, left, part) for part, one in PARTS.items() if one.bears_gas):
        for part, one in PARTS.items():
            if one.gas and state.conditions.get(part, EMPTY) != EMPTY:
                words = Unmet(part, state.conditions[part], frozenset({EMPTY})).words
                found.append(Danger(GAS_CHARGED, words))
    if any(left.get(chamber) in HOLDS_AIR for chamber in CHAMBERS):
        for part, one in PARTS.items():
            if one.bears and part in state.conditions and state.is_open(part) and not one.is_closed(left.get(part, "")):
                rule = UNPROVED_HOLD if part == "retention" else FILLED_OPEN
                found.append(Danger(rule, one.in_words(state.conditions[part])))
    return found
